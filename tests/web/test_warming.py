"""What is started in a quiet moment is started once, behind the first answer and while nothing is under way."""

from __future__ import annotations

import asyncio

from starlette.types import Receive, Scope, Send

from rinsewright.web.warming import WhenQuiet, start_chart_engine


def test_the_work_waits_for_a_quiet_moment_and_is_done_once() -> None:
    done: list[str] = []

    async def app(scope: Scope, _: Receive, __: Send) -> None:
        await scope["gate"].wait()

    async def visit() -> None:
        opened, closed = asyncio.Event(), asyncio.Event()
        opened.set()
        quiet = WhenQuiet(app, lambda: done.append("work"), quiet_s=0.0)

        async def ask(gate: asyncio.Event) -> None:
            await quiet({"gate": gate}, None, None)  # type: ignore[arg-type]

        slow = asyncio.create_task(ask(closed))
        await asyncio.sleep(0)
        await ask(opened)
        await asyncio.sleep(0.01)
        assert done == []  # the slow one is under way
        closed.set()
        await slow
        await asyncio.sleep(0.01)
        assert done == ["work"]
        await ask(opened)
        await asyncio.sleep(0.01)
        assert done == ["work"]

    asyncio.run(visit())


def test_the_chart_engine_starts() -> None:
    start_chart_engine()
