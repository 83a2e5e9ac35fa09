"""What a user of the app waits for: its first page, and the answer to a slider; and what a page weighs.

    python benchmarks/app.py [--count 200]

Starts the app over a new book with the example in it, as a program of its own, and asks it over the loopback. What is
timed is the whole answer with its fragment, one connection, one after another; the percentiles are of the clock.
"""

from __future__ import annotations

import argparse
import http.client
import random
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlencode, urlsplit

SITE = "/sites/tern-quay-yard"
PAGES = ("plant", "tap", "year", "build", "unpacking", "first-run", "papers", "start", "versions")


@contextmanager
def app(folder: Path) -> Iterator[tuple[int, float]]:
    """The app on a port of its own; gives the port and the seconds from its start until it listens."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "rinsewright", "serve", "--book", str(folder / "book.sqlite")]
    started = time.perf_counter()
    server = subprocess.Popen([*command, "--port", str(port), "--no-browser"], stdout=subprocess.PIPE, text=True)
    try:
        assert server.stdout is not None
        server.stdout.readline()
        yield port, time.perf_counter() - started
    finally:
        server.terminate()
        server.wait(10)


class Visitor:
    """One connection to the app."""

    def __init__(self, port: int) -> None:
        self.host = f"127.0.0.1:{port}"
        self.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)

    def ask(self, path: str, form: dict[str, str] | None = None, **headers: str) -> tuple[bytes, float]:
        """What it answers, a form with the page that it leads to, and after how many seconds."""
        started = time.perf_counter()
        named = {"Origin": f"http://{self.host}", **{key.replace("_", "-"): value for key, value in headers.items()}}
        if form is None:
            self.connection.request("GET", path, headers=named)
        else:
            named["Content-Type"] = "application/x-www-form-urlencoded"
            self.connection.request("POST", path, urlencode(form), named)
        answer = self.connection.getresponse()
        body = answer.read()
        if answer.status >= 400:
            raise SystemExit(f"{path}: {answer.status}")
        if answer.status == 303:
            body = self.ask(urlsplit(answer.headers["Location"]).path)[0]
        return body, time.perf_counter() - started


def percentile(values: list[float], share: float) -> float:
    """The value below which so large a share lies."""
    return statistics.quantiles(values, n=100, method="inclusive")[round(100 * share) - 1]


def lines(count: int) -> Iterator[str]:
    """Everything that is measured, a line each."""
    with tempfile.TemporaryDirectory() as folder, app(Path(folder)) as (port, start):
        visitor = Visitor(port)
        yield f"start of the app until it listens{'':14s} {start:8.2f} s"
        yield f"first page after the start, without a site{'':5s} {visitor.ask('/')[1]:8.3f} s"
        answers = {"meter": "305", "pressure": "3.4", "flow": "12", "coldest": "5", "has": "nothing", "size": "4040"}
        waits = [visitor.ask("/start", {**answers, "litres": f"{300 + step}"})[1] for step in range(6)]
        yield f"five answers to the page with the answer: first {waits[0]:.2f} s, then up to {max(waits[1:]):.2f} s"
        visitor.ask("/sites/example", {})
        yield f"first page of the example's plant{'':14s} {visitor.ask(f'{SITE}/plant')[1]:8.3f} s"
        visitor.ask(f"{SITE}/plant?judged=yes")  # what is about the year stands in every answer from then on
        rng = random.Random(1)
        waits = []
        for _ in range(count):
            where = f"{SITE}/plant?temperature={rng.uniform(4, 20):.1f}&pressure={rng.uniform(3.2, 5.5):.2f}"
            waits.append(visitor.ask(where, X_Fragment=FRAGMENTS)[1])
        yield (
            f"slider, {count} answers: half within {1e3 * percentile(waits, 0.5):.0f} ms, "
            f"95 % within {1e3 * percentile(waits, 0.95):.0f} ms, all within {1e3 * max(waits):.0f} ms"
        )
        for page in PAGES:
            body, first = visitor.ask(f"{SITE}/{page}")
            again = visitor.ask(f"{SITE}/{page}")[1]
            size = len(body) + sum(len(visitor.ask(asset)[0]) for asset in assets_of(body.decode()))
            yield f"{page:12s} {size / 1000:6.0f} kB with style and script, {first:6.3f} s, again {again:6.3f} s"


FRAGMENTS = "answer worst why tall parts"  # what the slider asks for on a phone


def assets_of(html: str) -> list[str]:
    """Addresses of the styles, scripts and icons that a page loads at once."""
    import re

    return re.findall(r'(?:src|href)="(/static/[^"]+)"', html)


def main() -> None:
    """Print the lines."""
    parser = argparse.ArgumentParser(description="What a user of the app waits for.")
    parser.add_argument("--count", type=int, default=200)
    for line in lines(parser.parse_args().count):
        print(line, flush=True)


if __name__ == "__main__":
    main()
