"""Many years side by side: fixed chunks of members, so that the number of workers changes nothing."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import connection, parent_process

from rinsewright.seasons.inputs import YearInputs
from rinsewright.seasons.ledger import Ledger, join
from rinsewright.seasons.march import march
from rinsewright.seasons.quality import ResinUse, through_resin

CHUNK = 512  # members marched together: a second 256 cost half as much as the first


def years(
    inputs: YearInputs, resin: ResinUse | None, workers: int = 1, progress: Callable[[float], None] | None = None
) -> Ledger:
    """March the year of every member of ``inputs``; ``progress`` is told the share done.

    Chunks are cut by their place alone and put together in order: the result is the same, bit by bit, on any number of
    workers.
    """
    starts = range(0, inputs.members, CHUNK)
    chunks = [slice(start, min(start + CHUNK, inputs.members)) for start in starts]
    work = [(inputs.part(chunk), None if resin is None else resin.part(chunk)) for chunk in chunks]
    parts: list[Ledger] = []
    for part in _done(work, min(workers, len(work))):
        parts.append(part)
        if progress is not None:
            progress(len(parts) / len(work))
    return join(parts)


def one_chunk(work: tuple[YearInputs, ResinUse | None]) -> Ledger:
    """One chunk: the litres first, then what is in them."""
    inputs, resin = work
    ledger = march(inputs)
    return ledger if resin is None else through_resin(inputs, ledger, resin)


def _done(work: list[tuple[YearInputs, ResinUse | None]], workers: int) -> Iterator[Ledger]:
    if workers <= 1:
        yield from map(one_chunk, work)
        return
    with ProcessPoolExecutor(workers, initializer=follow_parent) as pool:
        try:
            yield from pool.map(one_chunk, work)
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def follow_parent() -> None:
    """In a worker's process: leave an interrupt to the parent, and go when the parent is gone, in whatever way."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_wait_for_its_end, daemon=True).start()


def _wait_for_its_end() -> None:
    parent = parent_process()
    if parent is not None:
        connection.wait([parent.sentinel])
        os._exit(1)
