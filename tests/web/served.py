"""The app on a port of its own, in a thread, for tests that need a browser."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import uvicorn
from playwright.sync_api import BrowserContext
from starlette.responses import Response
from starlette.types import ASGIApp, Receive, Scope, Send

from rinsewright.store.book import Book
from rinsewright.web.app import make_app
from rinsewright.web.engine import Engine

DEMO = (Path(__file__).parents[2] / "examples" / "tern-quay.toml").read_text(encoding="utf-8")
SLUG = "tern-quay-yard"


@dataclass
class Signal:
    """What lies between a browser and the app; while it is gone, nothing reaches the app.

    The browser's own switch alone does not do: a page or a worker that is just being started slips through.
    """

    gone: bool = False

    def cut(self, context: BrowserContext) -> None:
        """No signal, and the browser knows."""
        self.gone = True
        context.set_offline(True)

    def mend(self, context: BrowserContext) -> None:
        """Signal again."""
        self.gone = False
        context.set_offline(False)

    def before(self, app: ASGIApp) -> ASGIApp:
        """The app behind it: a gateway answers in its place meanwhile (RFC 9110, 15.6.5)."""

        async def gateway(scope: Scope, receive: Receive, send: Send) -> None:
            await (Response(status_code=504) if self.gone else app)(scope, receive, send)

        return gateway


@contextmanager
def served(book: Book, port: int = 0, signal: Signal | None = None, engine: Engine | None = None) -> Iterator[str]:
    """The app over a book; gives its address. ``port`` 0: any that is free."""
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)  # or answers wait for 40 ms
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    listening.bind(("127.0.0.1", port))
    host = f"127.0.0.1:{listening.getsockname()[1]}"
    app = (signal or Signal()).before(make_app(book, hosts=[host], engine=engine))
    server = uvicorn.Server(uvicorn.Config(app, log_level="warning", access_log=False, lifespan="off"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    yield f"http://{host}"
    server.should_exit = True
    thread.join(10.0)
    listening.close()
