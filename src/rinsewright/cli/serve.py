"""``rinsewright serve``: the app, on this machine only."""

from __future__ import annotations

import argparse
import contextlib
from typing import TYPE_CHECKING, Any

from rinsewright.cli.options import add_book, whole

if TYPE_CHECKING:
    import socket

    from starlette.applications import Starlette

PORT = 8642
HERE = "127.0.0.1"  # never the network: this machine only


def add(commands: Any) -> None:
    """Put the command into the grammar."""
    command = commands.add_parser("serve", help="the app, in the browser of this machine")
    add_book(command)
    command.add_argument("--port", type=whole(1, 65535, ""), default=PORT, help=f"the port to listen on ({PORT})")
    command.add_argument("--no-browser", action="store_true", help="open no browser")
    command.set_defaults(run=run)


def run(options: argparse.Namespace) -> None:
    """Carry it out; ends by Ctrl-C."""
    listening = _listen(options.port)
    from rinsewright.store.book import Book
    from rinsewright.web.app import make_app

    with contextlib.closing(listening), contextlib.closing(Book.open(options.book)) as book:
        hosts = [f"{name}:{options.port}" for name in (HERE, "localhost")]
        _serve(make_app(book, hosts=hosts), listening, f"http://{HERE}:{options.port}/", not options.no_browser)


def _listen(port: int) -> socket.socket:
    import socket
    import sys

    from rinsewright.errors import InputError, Problem

    # TCP by name: else asyncio does not switch its delay off, and each answer waits 40 ms for the last one's receipt.
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    if sys.platform != "win32":  # there it would let two listen on one port
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((HERE, port))
    except OSError:
        listening.close()
        raise InputError(
            Problem(f"port {port} is not free, perhaps the app runs already; give another with --port")
        ) from None
    listening.listen()
    return listening


def _serve(app: Starlette, listening: socket.socket, address: str, browser: bool) -> None:
    import uvicorn

    config = uvicorn.Config(app, log_level="warning", access_log=False, lifespan="off", server_header=False)
    print(f"rinsewright is open at {address} for browsers of this machine alone (Ctrl-C ends it)", flush=True)
    if browser:
        import webbrowser

        webbrowser.open(address)  # the socket listens already: the page waits for the server
    with contextlib.suppress(KeyboardInterrupt):  # how it is meant to end
        uvicorn.Server(config).run(sockets=[listening])
