#!/usr/bin/env python3
"""Every page of the app at phone and desktop width, by day and by night, as pictures.

    python docs/screens.py [FOLDER]        all of them into FOLDER (default docs/site/screens)
    python docs/screens.py --readme        the two that the README shows, into docs/screens

Starts the app over a new book with the example in it, and a browser.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

DOCS = Path(__file__).resolve().parent
sys.path.insert(0, str(DOCS.parent))

from start import find_browser  # noqa: E402

SITE = "/sites/tern-quay-yard"
PAGES = {
    "sites": "/",
    "settings": "/settings",
    "questions": "/start",
    "start": f"{SITE}/start",
    "tap": f"{SITE}/tap",
    "water-of-the-year": f"{SITE}/tap/changes/new",
    "work": f"{SITE}/work",
    "van": f"{SITE}/work/vans/new",
    "round": f"{SITE}/work/rounds/new",
    "yard": f"{SITE}/yard",
    "plant": f"{SITE}/plant",
    "part": f"{SITE}/plant/plant.drain%5B0%5D",
    "year": f"{SITE}/year",
    "build": f"{SITE}/build",
    "unpacking": f"{SITE}/unpacking",
    "first-run": f"{SITE}/first-run",
    "reading": f"{SITE}/first-run/1",
    "papers": f"{SITE}/papers",
    "versions": f"{SITE}/versions",
}
WIDTHS = {"phone": (360, 740), "desk": (1280, 800)}
README = {"plant": ("phone", False), "year": ("desk", False)}


@contextmanager
def app() -> Iterator[str]:
    """The app over a new book with the example in it; gives its address."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    address = f"http://127.0.0.1:{port}"
    with tempfile.TemporaryDirectory() as folder:
        book = str(Path(folder) / "book.sqlite")
        command = [sys.executable, "-m", "rinsewright", "serve", "--book", book, "--port", str(port), "--no-browser"]
        server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        try:
            assert server.stdout is not None
            server.stdout.readline()  # it says so when it listens
            send(address, "/sites/example")
            send(address, f"{SITE}/first-run", b"temperature=12")
            send(address, f"{SITE}/first-run/1", b"key=drain_l_min&value=2.2")
            send(address, f"{SITE}/papers", b"kind=build")
            yield address
        finally:
            server.terminate()
            server.wait(10)


def send(address: str, path: str, form: bytes = b"") -> None:
    """Send a form, so that there is something to see."""
    request = urllib.request.Request(address + path, data=form, headers={"Origin": address})
    urllib.request.urlopen(request, timeout=60).close()


def shoot(browser: Browser, address: str, path: str, file: Path, width: str, night: bool, whole: bool) -> None:
    """One page as a picture."""
    across, down = WIDTHS[width]
    page = browser.new_page(
        viewport={"width": across, "height": down},
        color_scheme="dark" if night else "light",
        device_scale_factor=1.0,
    )
    answer = page.goto(address + path)
    if answer is None or answer.status != 200:
        raise SystemExit(f"{path}: {answer.status if answer else 'no answer'}")
    page.wait_for_load_state("networkidle")
    page.screenshot(path=file, full_page=whole)
    page.close()


def main(words: list[str]) -> None:
    """Take the pictures."""
    readme = "--readme" in words
    folder = DOCS / "screens" if readme else Path(words[0]) if words else DOCS / "site" / "screens"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    started = time.perf_counter()
    with app() as address, sync_playwright() as play:
        browser = play.chromium.launch(
            executable_path=os.environ.get("CHROMIUM") or find_browser(), args=["--no-sandbox", "--disable-gpu"]
        )
        if readme:
            for name, (width, night) in README.items():
                shoot(browser, address, PAGES[name], folder / f"{name}.png", width, night, whole=False)
        else:
            for name, path in PAGES.items():
                for width in WIDTHS:
                    for night in (False, True):
                        file = folder / f"{name}-{width}-{'night' if night else 'day'}.png"
                        shoot(browser, address, path, file, width, night, whole=True)
        browser.close()
    print(f"{len(list(folder.iterdir()))} pictures in {folder} ({time.perf_counter() - started:.0f} s)")


if __name__ == "__main__":
    main(sys.argv[1:])
