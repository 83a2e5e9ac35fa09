"""What stands before every page: it answers only who is meant, takes only what is small, and lets nothing in or out.

The app listens on this machine only, but any page in the user's browser can send requests there. So the host must be
the one that is served (a foreign name that resolves to this machine is refused), a request that changes something
must come from a page of ours, and the browser is told to load nothing from elsewhere and to run no script but ours.
"""

from __future__ import annotations

from collections.abc import Collection

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LARGEST = 2_000_000  # bytes of one request: a water company's report as a sheet of cells is far smaller
READING = ("GET", "HEAD")
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; manifest-src 'self'; worker-src 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-cache",
}


class TooLarge(Exception):
    """More bytes came than a request may have."""


class Guard:
    """Refuses a foreign host, a foreign page and a large body; sets the headers that keep a page to itself."""

    def __init__(self, app: ASGIApp, hosts: Collection[str]) -> None:
        self.app = app
        self.hosts = hosts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        refusal = self._refusal(scope["method"], Headers(scope=scope))

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        if refusal is not None:
            await refusal(scope, receive, guarded)
            return
        try:
            await self.app(scope, _limited(receive), guarded)
        except TooLarge:
            await _too_large()(scope, receive, guarded)

    def _refusal(self, method: str, headers: Headers) -> PlainTextResponse | None:
        host = headers.get("host", "")
        if host not in self.hosts:
            return PlainTextResponse("This address is not served here.", 421)
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > LARGEST:
            return _too_large()
        if method not in READING and not _from_our_page(headers, host):
            return PlainTextResponse("This did not come from a page of this app, so nothing was changed.", 403)
        return None


def _from_our_page(headers: Headers, host: str) -> bool:
    """Browsers say where a request comes from in Sec-Fetch-Site, older ones in Origin; one of them must be there."""
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site == "same-origin"
    return headers.get("origin") in (f"http://{host}", f"https://{host}")


def _too_large() -> PlainTextResponse:
    return PlainTextResponse(f"This is larger than the {LARGEST // 1_000_000} MB that one request may have.", 413)


def _limited(receive: Receive) -> Receive:
    """The same, but it stops at the largest body: a body sent in chunks does not say its length beforehand."""
    taken = 0

    async def limited() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > LARGEST:
            raise TooLarge
        return message

    return limited
