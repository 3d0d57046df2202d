"""JupyterLab and a headless Chromium for the tests, with nothing of the user's in them."""

from __future__ import annotations

import json
import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)
FLAGS = (
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync"),
    *("--disable-background-networking", "--disable-component-update"),
)
_TOKEN = "of-the-tests"
_NO_NEWS = {"@jupyterlab/apputils-extension:notification": {"fetchNews": "false"}}
_OPTIONS = (
    *("--no-browser", "--ip=127.0.0.1", "--ServerApp.port_retries=0", "--allow-root"),
    f"--IdentityProvider.token={_TOKEN}",
    "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
    "--LabApp.extension_manager=readonly",
    "--LabApp.expose_app_in_browser=True",
)


@contextmanager
def chromium() -> Iterator[Any]:
    """A browser with an empty profile."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        yield browser
        browser.close()


@contextmanager
def jupyterlab(folder: Path, own: Path) -> Iterator[str]:
    """JupyterLab on a folder, its settings in an empty one of its own; gives its address."""
    dirs = {f"JUPYTER_{kind}_DIR": own / kind.lower() for kind in ("CONFIG", "DATA", "RUNTIME")}
    settings = dirs["JUPYTER_CONFIG_DIR"] / "labconfig"
    settings.mkdir(parents=True)
    (settings / "default_setting_overrides.json").write_text(json.dumps(_NO_NEWS))
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "jupyterlab", *_OPTIONS, f"--port={port}", str(folder)]
    said = (own / "server.log").open("w")
    environment = os.environ | {key: str(path) for key, path in dirs.items()}
    server = subprocess.Popen(command, env=environment, stdout=said, stderr=subprocess.STDOUT)
    try:
        _wait_for(port, server, own / "server.log")
        yield f"http://127.0.0.1:{port}"
    finally:
        server.terminate()
        try:
            server.wait(60)
        except subprocess.TimeoutExpired:  # on a machine at work; nothing is left running
            server.kill()
            server.wait(20)
        said.close()


def _wait_for(port: int, server: subprocess.Popen[bytes], log: Path) -> None:
    for _ in range(300):
        if server.poll() is not None:
            break
        try:
            socket.create_connection(("127.0.0.1", port), 1).close()
        except OSError:
            time.sleep(0.1)
        else:
            return
    msg = f"JupyterLab did not start:\n{log.read_text()[-2000:]}"
    raise RuntimeError(msg)


def open_notebook(page: Any, address: str, name: str) -> None:
    """Open a notebook, wait for its kernel, and run all its cells."""
    page.goto(f"{address}/lab/tree/{name}?token={_TOKEN}&reset")
    page.wait_for_function(
        """() => {
            const kernel = window.jupyterapp?.shell.currentWidget?.sessionContext?.session?.kernel;
            return kernel?.connectionStatus === "connected";
        }""",
        timeout=60_000,
    )
    page.evaluate("window.jupyterapp.commands.execute('notebook:run-all-cells')")
