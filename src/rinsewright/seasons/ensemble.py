"""Many years side by side: fixed chunks of members, so that the number of workers changes nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor

from rinsewright.seasons.inputs import YearInputs
from rinsewright.seasons.ledger import Ledger, join
from rinsewright.seasons.march import march
from rinsewright.seasons.quality import ResinUse, through_resin

CHUNK = 256  # members marched together


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
    with ProcessPoolExecutor(workers) as pool:
        try:
            yield from pool.map(one_chunk, work)
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise
