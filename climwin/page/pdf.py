"""The page on paper: a PDF by a browser that is on the computer already."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from climwin.core.errors import InputError
from climwin.core.schema import check_choice
from climwin.io.files import atomic_write

BROWSERS = (
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
    "msedge",
)
"""Names of browsers built on Chromium, which print without a window."""

_MAC = "/Applications/{0}.app/Contents/MacOS/{0}"
INSTALLED = (
    *(_MAC.format(name) for name in ("Google Chrome", "Chromium", "Microsoft Edge")),
    *(
        rf"${{{root}}}\{program}"
        for root in ("ProgramFiles", "ProgramFiles(x86)", "LocalAppData")
        for program in (
            r"Google\Chrome\Application\chrome.exe",
            r"Microsoft\Edge\Application\msedge.exe",
        )
    ),
)
"""Where their installers put them on macOS and on Windows, off the path (from memory)."""

PAPERS = ("A4", "Letter")
PATIENCE_S = 120

_QUIET = (
    "--headless",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-pdf-header-footer",
)


def pdf(page: str | Path, path: str | Path | None = None, *, paper: str = "A4") -> Path:
    """Print a page to share to a PDF.

    Parameters
    ----------
    page : str or Path
        From `write.write_page`.
    path : str or Path, optional
        Where to; beside the page, with its name, where it is left out.
    paper : {"A4", "Letter"}
        Its format.

    Returns
    -------
    Path
        Of the PDF.

    Raises
    ------
    ValueError
        If no browser that can print is on this computer, or it fails; the text says how to print
        by hand.
    """
    check_choice("paper", paper, PAPERS)
    source = Path(page)
    target = source.with_suffix(".pdf") if path is None else Path(path)
    sized = source.read_text("utf-8").replace(
        "</head>", f"<style>@page {{ size: {paper} }}</style>\n</head>", 1
    )
    with tempfile.TemporaryDirectory(prefix="climwin-") as folder:
        copy, made = Path(folder) / "page.html", Path(folder) / "page.pdf"
        copy.write_text(sized, encoding="utf-8")
        _print(_browser(), copy, made)
        target.parent.mkdir(parents=True, exist_ok=True)
        with atomic_write(target) as part:
            shutil.copyfile(made, part)
    return target


def _browser() -> str:
    """The first browser that is here: on the path, or where installers put it."""
    for name in (*BROWSERS, *map(os.path.expandvars, INSTALLED)):
        program = shutil.which(name)
        if program:
            return program
    msg = (
        f"No browser that prints without a window is on this computer (looked for "
        f"{', '.join(BROWSERS)}). Open the page in any browser and print it from there, to paper "
        "or to a PDF; it is laid out for both."
    )
    raise InputError(msg)


def _print(browser: str, page: Path, made: Path) -> None:
    """Have a browser print a page to a file; refused, with its reason, if it fails."""
    root = ["--no-sandbox"] if getattr(os, "geteuid", lambda: 1)() == 0 else []
    profile = f"--user-data-dir={page.parent / 'profile'}"
    call = [browser, *_QUIET, *root, profile, f"--print-to-pdf={made}", page.as_uri()]
    try:
        done = subprocess.run(call, capture_output=True, text=True, timeout=PATIENCE_S, check=False)
        why = (done.stderr.strip().splitlines() or [f"exit code {done.returncode}"])[-1]
    except subprocess.TimeoutExpired:
        why = f"not done in {PATIENCE_S} s"
    if not made.exists():
        msg = f"{Path(browser).name} could not print the page: {why}. Print it by hand instead."
        raise InputError(msg)
