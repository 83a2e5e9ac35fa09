"""What is slow when it is first used is started in a quiet moment, so that nobody waits for it."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

from starlette.types import ASGIApp, Receive, Scope, Send

QUIET_S = 1.0  # without a request; what belongs to one page is asked for within this


class WhenQuiet:
    """An app with some work to be done once: after its first answer, as soon as nothing is asked of it for a moment.

    The work is done on the app's own thread and holds up what is asked meanwhile: in another thread it would too, since
    what it is for keeps Python's lock.
    """

    def __init__(self, app: ASGIApp, work: Callable[[], object], quiet_s: float = QUIET_S) -> None:
        self._app, self._quiet_s = app, quiet_s
        self._work: Callable[[], object] | None = work
        self._soon: asyncio.TimerHandle | None = None
        self._under_way = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, and look for the quiet moment behind it."""
        if self._soon is not None:
            self._soon.cancel()
        self._under_way += 1
        try:
            await self._app(scope, receive, send)
        finally:
            self._under_way -= 1
            if self._work is not None and not self._under_way:
                self._soon = asyncio.get_running_loop().call_later(self._quiet_s, self._do)

    def _do(self) -> None:
        work, self._work = self._work, None
        if work is not None:
            work()


def start_chart_engine() -> None:
    """Start what charts are drawn with: a third of a second of processor, which the first chart would wait for."""
    import vl_convert

    vl_convert.vegalite_to_svg({"data": {"values": [{}]}, "mark": "point"})
