"""How high a page is, how many words it shows, what it weighs, on how many sheets it prints, and
how long a slow phone takes to show it.

``python tests/page/measure.py PAGE.html ...`` prints a row of the first table in ``RESULTS.md`` for
each page, its weight by part, and a row of the table of waits. A page in degrees Fahrenheit is
printed on Letter, others on A4.
"""

from __future__ import annotations

import re
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import Browser
from pypdf import PdfReader

from climwin.page.pdf import pdf

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from desk import chromium

PARTS = {
    "the live chart's numbers": r'id="live-numbers">([^<]*)<',
    "drawings": r"(<svg.*?</svg>)",
    "files to keep": r'href="(data:[^"]*)"',
    "script": r'<script type="module">(.*?)</script>',
    "style": r"<style>(.*?)</style>",
}


def as_seen(browser: Browser, page: Path, width: int) -> tuple[int, int]:
    """Height of a page with all parts folded [px], and the words that show then."""
    tab = browser.new_page(viewport={"width": width, "height": 900})
    tab.goto(page.resolve().as_uri())
    height = tab.evaluate("document.documentElement.scrollHeight")
    words = len(tab.inner_text("body").split())
    tab.close()
    return height, words


THROTTLE, ROUNDS = 4, 5
"""How much slower than this machine's processor the phone is, and how often it is asked: the least
counts, for other work on this machine only adds to it."""

_ANSWER = """async () => {
    const live = document.getElementById("live"), began = performance.now();
    live.open = true;
    const finding = () => document.querySelector("#live-chart .finding")?.textContent;
    while (!finding()) await new Promise(requestAnimationFrame);
    return performance.now() - began;
}"""
_PAINT = 'performance.getEntriesByName("first-contentful-paint")[0]?.startTime'


def waits(browser: Browser, page: Path) -> tuple[float, float | None]:
    """Until something shows, and from opening the live chart to its answer, slowed down [ms]."""
    paints, answers = [], []
    for _ in range(ROUNDS):
        tab = browser.new_page(viewport={"width": 390, "height": 900})
        session = tab.context.new_cdp_session(tab)
        session.send("Emulation.setCPUThrottlingRate", {"rate": THROTTLE})
        tab.goto(page.resolve().as_uri())
        tab.wait_for_function(_PAINT)
        paints.append(tab.evaluate(_PAINT))
        if tab.query_selector("#live"):
            answers.append(tab.evaluate(_ANSWER))
        tab.close()
    return min(paints), min(answers, default=None)


def sheets(page: Path, paper: str) -> int:
    """Sheets of paper that a page prints on."""
    with tempfile.TemporaryDirectory() as folder:
        return len(PdfReader(pdf(page, Path(folder) / "page.pdf", paper=paper)).pages)


def weights(html: str) -> dict[str, float]:
    """Kilobytes of a page by part."""
    found = {
        name: sum(len(each.encode()) for each in re.findall(pattern, html, re.DOTALL))
        for name, pattern in PARTS.items()
    }
    found["text and tables"] = len(html.encode()) - sum(found.values())
    return {name: size / 1000 for name, size in found.items()}


def main() -> None:
    """Print a row and the weights of each page named."""
    with chromium() as browser:
        for page in map(Path, sys.argv[1:]):
            html = page.read_text("utf-8")
            wide, words = as_seen(browser, page, 1280)
            narrow, _ = as_seen(browser, page, 390)
            paper = "Letter" if re.search(r"\d °F", html) else "A4"
            count = sheets(page, paper)
            size = len(html.encode()) / 1000
            print(f"| {page.stem} | {wide:,} | {narrow:,} | {words} | {count} | {size:.0f} |")
            print(", ".join(f"{name} {size:.0f}" for name, size in weights(html).items()))
            paint, answer = waits(browser, page)
            shown = "" if answer is None else f"{answer:.0f}"
            print(f"| {page.stem} | {paint:.0f} | {shown} |")


if __name__ == "__main__":
    main()
