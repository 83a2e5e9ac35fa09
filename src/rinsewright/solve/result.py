"""What a solved plant says: numbers in trade units, for one condition or for all."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from rinsewright.errors import NoWorkingState
from rinsewright.plant.layout import Plant
from rinsewright.quantities import BAR, L_MIN, LMH, MG_L, US_CM, Array
from rinsewright.solve.composition import Composition, compose, lumped, treated
from rinsewright.solve.limits import beyond_recovery, refusal
from rinsewright.solve.steady import Conditions, Steady, steady
from rinsewright.water.ions import CO2_MOLAR_MASS, MOLAR_MASS
from rinsewright.water.speciation import speciate
from rinsewright.water.state import Water


@dataclass(frozen=True)
class Batch:
    """Solved conditions, in SI and side by side. ``state.solved`` says which of them have a working state."""

    plant: Plant
    conditions: Conditions
    state: Steady
    waters: Composition

    def __len__(self) -> int:
        return self.conditions.temperature_k.size

    @cached_property
    def works(self) -> Array:
        """Which conditions have a working state within every part's limits."""
        return np.array([self.refusal(lane) is None for lane in range(len(self))])

    def columns(self, meter_factor: float = 0.5) -> dict[str, Array]:
        """Results in trade units, one array (conditions,) a name; not-a-number where there is no working state."""
        state, waters = self.state, self.waters
        values = {
            "tap_l_min": state.tap_flow / L_MIN,
            "product_l_min": state.product_flow / L_MIN,
            "drain_l_min": state.drain_flow / L_MIN,
            "membrane_bar": state.membrane_pa / BAR,
            "drain_bar": state.drain_pa / BAR,
            "back_pressure_bar": state.product_pa / BAR,
            "recovery": state.product_flow / state.tap_flow,
            "product_meter_ppm": waters.product.conductivity / US_CM * meter_factor,
            "product_tds_mg_l": waters.product.tds / MG_L,
            "product_ph": waters.product.ph,
            "delivered_meter_ppm": waters.delivered.conductivity / US_CM * meter_factor,
        }
        return {name: np.where(state.solved, value, np.nan) for name, value in values.items()}

    def refusal(self, lane: int) -> NoWorkingState | None:
        """Why a condition has no working state, or ``None``."""
        return refusal(self.plant, self.conditions, self.state, lane)


def solve_batch(plant: Plant, tap: Water, standing_pa: Array, steps: int | None = None, **spread: Any) -> Batch:
    """Solve a plant on a batch of waters (conditions,) at standing pressures (conditions,) [Pa]."""
    conditions = Conditions(tap.temperature_k, standing_pa, lumped(treated(plant, tap)), **spread)
    state = steady(plant, conditions, steps)
    with np.errstate(all="ignore"):
        return Batch(plant, conditions, state, compose(plant, state, tap))


@dataclass(frozen=True)
class Solved:
    """One working state. Exists only where there is one: :func:`solve_one` raises otherwise."""

    batch: Batch
    meter_factor: float
    notes: tuple[str, ...] = ()

    @cached_property
    def saturation(self) -> dict[str, float | None]:
        """Saturation indices of the drain water at its own temperature (PHREEQC); empty without a drain."""
        drain = self.batch.waters.drain
        return {} if drain is None else speciate(drain[0]).saturation

    @cached_property
    def wall_saturation(self) -> dict[str, float | None]:
        """Saturation indices at the membrane's surface where the drain leaves; empty without membranes."""
        wall = self.batch.waters.wall
        return {} if wall is None else speciate(wall[0]).saturation

    @property
    def product_l_min(self) -> float:
        """Product flow [L/min]."""
        return float(self.batch.state.product_flow[0] / L_MIN)

    def _water(self, water: Water, *names: str) -> dict[str, Any]:
        conductivity = float(water.conductivity[0] / US_CM)
        values = {
            "conductivity_us_cm": conductivity,
            "meter_ppm": conductivity * self.meter_factor,
            "tds_mg_l": float(water.tds[0] / MG_L),
            "residue_mg_l": float(water.residue[0] / MG_L),
            "ph": float(water.ph[0]),
            "co2_mg_l": float(water.co2[0] * CO2_MOLAR_MASS / MG_L),
            "ions_mg_l": {name: float(value[0]) for name, value in water.ions_mg_l().items()},
        }
        return {name: values[name] for name in names}

    def answer(self) -> dict[str, Any]:
        """The state as the contract's ``solve`` object (without the versions)."""
        state, waters = self.batch.state, self.batch.waters
        tap, product = waters.tap, waters.product
        full = ("conductivity_us_cm", "meter_ppm", "tds_mg_l", "ph", "co2_mg_l", "ions_mg_l")
        drain: dict[str, Any] = {
            "flow_l_min": float(state.drain_flow[0] / L_MIN),
            "pressure_bar": float(state.drain_pa[0] / BAR) if waters.drain else None,
        }
        if waters.drain is not None:
            drain |= self._water(waters.drain, "conductivity_us_cm", "tds_mg_l", "ph", "ions_mg_l")
        else:
            drain |= {"conductivity_us_cm": None, "tds_mg_l": None, "ph": None, "ions_mg_l": {}}
        return {
            "feed": {
                "flow_l_min": float(state.tap_flow[0] / L_MIN),
                "membrane_bar": float(state.membrane_pa[0] / BAR),
                **self._water(tap, *full),
            },
            "product": {
                "flow_l_min": self.product_l_min,
                "back_pressure_bar": float(state.product_pa[0] / BAR),
                **self._water(product, *full, "residue_mg_l"),
            },
            "delivered": self._water(waters.delivered, "conductivity_us_cm", "meter_ppm", "residue_mg_l", "ph"),
            "drain": drain | {"saturation": dict(self.saturation)},
            "recovery": float(state.product_flow[0] / state.tap_flow[0]),
            "rejection": _rejection(tap, product),
            "elements": self._elements(),
            "notes": [*self.notes, *beyond_recovery(self.batch.plant, self.batch.state)],
        }

    def _elements(self) -> list[dict[str, Any]]:
        rows: dict[tuple[int, int], dict[str, Any]] = {}
        for branch in self.batch.state.branches:
            product = float(branch.outlet.product[0])
            inlet = float(branch.inlet_flow[0])
            row = {
                "stage": branch.stage,
                "feed_l_min": inlet / L_MIN,
                "product_l_min": product / L_MIN,
                "recovery": product / inlet,
                "flux_l_m2_h": product / branch.group.element.area / LMH,
                "wall_to_bulk": branch.outlet.wall_to_bulk(branch.channel),
            }
            rows |= {(branch.stage, place): dict(row) for place in branch.group.members}
        return [rows[place] for place in sorted(rows)]


def _rejection(tap: Water, product: Water) -> float | None:
    """1 − product/tap by mass of dissolved ions and silica; not known for a tap without any."""
    before = float(tap.solutes[0] @ MOLAR_MASS)
    return 1.0 - float(product.solutes[0] @ MOLAR_MASS) / before if before > 0.0 else None


def solve_one(plant: Plant, tap: Water, standing_pa: float, meter_factor: float, notes: tuple[str, ...] = ()) -> Solved:
    """Solve a plant on one water; raises :class:`NoWorkingState` naming the part that forbids it."""
    batch = solve_batch(plant, tap, np.full(1, standing_pa))
    reason = batch.refusal(0)
    if reason is not None:
        raise reason
    return Solved(batch, meter_factor, notes)
