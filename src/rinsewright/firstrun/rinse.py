"""Rinsing the preservative out before the first readings, and how the plant settles after them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from rinsewright.plant.layout import Plant
from rinsewright.quantities import LITRE, MINUTE

RINSE_MINUTES = 60.0  # an hour or more (common practice, no source)
ORIGIN = "common practice, no source; the figures beside it are assumed"


HARM = {"resin": "it would use up the resin", "tank": "it would foul the tank"}


@dataclass(frozen=True)
class Settling:
    """What may be expected so long after the first start, as shares of the settled plant."""

    hours: float
    flow: tuple[float, float]
    reading: tuple[float, float]
    why: str


# Common practice says only that flow and quality settle for up to a day; the shares are assumed.
SETTLING = (
    Settling(1.0, (0.90, 1.15), (0.8, 2.0), "Preservative and air are still leaving; judge nothing finally yet."),
    Settling(6.0, (0.93, 1.10), (0.9, 1.4), "Most of it is done; a reading still falls rather than rises."),
    Settling(24.0, (0.97, 1.03), (0.95, 1.1), "Settled: these readings are the ones to keep for comparison."),
)


@dataclass(frozen=True)
class Rinse:
    """The preservative rinse, everything to drain."""

    minutes: float
    product_litres: float
    drain_litres: float
    bypass: tuple[str, ...]  # what must not get this water
    why: str
    do: str
    settling: tuple[Settling, ...] = SETTLING
    origin: str = ORIGIN

    @property
    def litres(self) -> float:
        """Litres that go down the drain in all."""
        return self.product_litres + self.drain_litres

    def answer(self) -> dict[str, Any]:
        """The rinse as an answer's object."""
        return {
            "minutes": self.minutes,
            "litres": self.litres,
            "product_litres": self.product_litres,
            "drain_litres": self.drain_litres,
            "bypass": list(self.bypass),
            "why": self.why,
            "do": self.do,
            "settling": [
                {"hours": s.hours, "flow_share": list(s.flow), "reading_share": list(s.reading), "why": s.why}
                for s in self.settling
            ],
            "origin": self.origin,
        }


def rinse_of(plant: Plant, product_flow: float, drain_flow: float) -> Rinse | None:
    """The rinse of a plant at its flows [m3/s]; none without membranes."""
    if not plant.stages:
        return None
    bypass = tuple(name for name, part in (("resin", plant.resin), ("tank", plant.tank)) if part is not None)
    harm = " and ".join(HARM[name] for name in bypass) or "it is not for a brush"
    seconds = RINSE_MINUTES * MINUTE
    where = f", with {' and '.join(bypass)} by-passed" if bypass else ""
    return Rinse(
        minutes=RINSE_MINUTES,
        product_litres=product_flow * seconds / LITRE,
        drain_litres=drain_flow * seconds / LITRE,
        bypass=bypass,
        why=f"New membranes carry preservative: {harm}.",
        do=(
            f"Run product and drain to the drain for {RINSE_MINUTES:.0f} minutes or more{where}; go on until two "
            "product readings ten minutes apart are the same."
        ),
    )
