"""The style sheet and the script: served under a name that holds their hash, so that they may be kept for ever."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from importlib.resources import files

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from rinsewright.web.view import environment

TYPES = {"css": "text/css", "js": "text/javascript", "svg": "image/svg+xml"}
FOR_EVER = "public, max-age=31536000, immutable"


@dataclass(frozen=True)
class Asset:
    """A file of ours, as it is served."""

    address: str
    content: bytes
    media_type: str


@cache
def asset(name: str) -> Asset:
    """A file of ``static/`` by its name; style sheets take in what they share with the papers."""
    source = files("rinsewright.web").joinpath("static", name)
    stem, _, end = name.rpartition(".")
    if end == "css":
        content = environment().from_string(source.read_text(encoding="utf-8")).render().encode()
    else:
        content = source.read_bytes()
    return Asset(f"/static/{stem}.{sha256(content).hexdigest()[:12]}.{end}", content, TYPES[end])


@cache
def assets() -> dict[str, Asset]:
    """All of them, by address."""
    names = sorted(entry.name for entry in files("rinsewright.web").joinpath("static").iterdir())
    return {made.address: made for made in map(asset, names)}


def serve(request: Request) -> Response:
    """One of them."""
    found = assets().get(request.url.path)
    if found is None:
        return Response(status_code=404)
    return Response(found.content, media_type=found.media_type, headers={"Cache-Control": FOR_EVER})


routes = (Route("/static/{name}", serve),)
