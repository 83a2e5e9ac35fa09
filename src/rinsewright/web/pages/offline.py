"""Without signal: the service worker, which keeps what is used in the yard, and the page for what is not kept."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from rinsewright.web.assets import assets
from rinsewright.web.view import page

LARGEST = 100_000  # bytes of one file of the shell: what is larger is for pages that need signal anyway


@dataclass(frozen=True)
class WithoutSignal:
    """Nothing but words; the pages that are kept are listed by the phone itself."""


def show(request: Request) -> Response:
    """What stands in the place of a page that is not kept."""
    return page(request, "firstrun_offline.html", WithoutSignal())


def worker(request: Request) -> Response:
    """The service worker. It stands at the root, since it serves only what lies below its own address."""
    return Response(_worker(), media_type="text/javascript")


@cache
def _worker() -> str:
    shell = [
        address for address, made in assets().items() if len(made.content) <= LARGEST and "/worker." not in address
    ]
    script = files("rinsewright.web").joinpath("static", "worker.js").read_text(encoding="utf-8")
    return f"const SHELL = {json.dumps(shell)};\n{script}"


routes = (
    Route("/worker.js", worker, name="worker"),
    Route("/offline", show, name="offline"),
)
