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
LITRES_SHARE = 0.4  # of the work that is the march, the rest being the resin's (measured: 0.5 for 20, 0.3 for 500)

Progress = Callable[[float], None]


def years(inputs: YearInputs, resin: ResinUse | None, workers: int = 1, progress: Progress | None = None) -> Ledger:
    """March the year of every member of ``inputs``.

    ``progress`` is told the share of all members' days that is done: as they pass, or by whole chunks where several
    workers share them.

    Chunks are cut by their place alone and put together in order: the result is the same, bit by bit, on any number of
    workers.
    """
    starts = range(0, inputs.members, CHUNK)
    chunks = [slice(start, min(start + CHUNK, inputs.members)) for start in starts]
    work = [(inputs.part(chunk), None if resin is None else resin.part(chunk)) for chunk in chunks]
    ends = [chunk.stop / inputs.members for chunk in chunks]
    parts: list[Ledger] = []
    for part in _done(work, ends, min(workers, len(work)), progress):
        parts.append(part)
        if progress is not None:
            progress(ends[len(parts) - 1])
    return join(parts)


def one_chunk(work: tuple[YearInputs, ResinUse | None], progress: Progress | None = None) -> Ledger:
    """One chunk: the litres first, then what is in them."""
    inputs, resin = work
    if resin is None:
        return march(inputs, progress=progress)
    ledger = march(inputs, progress=part_of(progress, 0.0, LITRES_SHARE))
    return through_resin(inputs, ledger, resin, part_of(progress, LITRES_SHARE, 1.0))


def part_of(progress: Progress | None, first: float, last: float) -> Progress | None:
    """What a part of some work tells its share to, where it goes from ``first`` to ``last`` of the whole."""
    return None if progress is None else lambda share: progress(first + (last - first) * share)


def _done(
    work: list[tuple[YearInputs, ResinUse | None]], ends: list[float], workers: int, progress: Progress | None
) -> Iterator[Ledger]:
    if workers <= 1:
        for one, first, last in zip(work, [0.0, *ends], ends, strict=False):
            yield one_chunk(one, part_of(progress, first, last))
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
