"""A batch of waters: conserved totals, temperature, and everything that follows from them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from types import EllipsisType
from typing import Any, Final, cast

import numpy as np
from numpy.typing import NDArray

from rinsewright.quantities import MG_L, T25, Array
from rinsewright.water import carbonate, conductivity, osmotic
from rinsewright.water.ions import INDEX, MOLAR_MASS, SOLUTES

Lanes = int | slice | EllipsisType | None | tuple[int | slice | EllipsisType | None, ...] | NDArray[Any] | list[int]

_ALK: Final = INDEX["HCO3"]
_HARDNESS: Final = [INDEX["Ca"], INDEX["Mg"]]
CACO3: Final = 100.0869e-3  # kg/mol
_CARBONATE_PER_BICARBONATE: Final = 0.5 * 60.0089 / 61.0168  # 2 HCO3- leave one CO3--, CO2 and water: 0.4917 by mass


@dataclass(frozen=True, eq=False)
class Water:
    """Waters in lanes. ``solutes`` (..., 17) mol/m3 by :data:`~rinsewright.water.ions.SOLUTES` (HCO3: alkalinity),
    ``carbon`` (...) total inorganic carbon mol/m3, ``temperature_k`` (...) K. Totals are conserved; pH is computed.
    Valid where :mod:`~rinsewright.water.carbonate` is.
    """

    solutes: Array
    carbon: Array
    temperature_k: Array

    def __post_init__(self) -> None:
        solutes = np.asarray(self.solutes, dtype=np.float64)
        lanes = solutes.shape[:-1]
        object.__setattr__(self, "solutes", solutes)
        for name in ("carbon", "temperature_k"):
            object.__setattr__(self, name, np.broadcast_to(np.asarray(getattr(self, name), dtype=np.float64), lanes))

    @classmethod
    def from_ph(cls, solutes: Array, ph: Array | float, temperature_k: Array | float) -> Water:
        """Waters whose total carbon gives them this pH at this temperature (see :func:`carbonate.carbon_at_ph`)."""
        solutes = np.asarray(solutes, dtype=np.float64)
        temperature = np.broadcast_to(np.asarray(temperature_k, dtype=np.float64), solutes.shape[:-1])
        return cls(solutes, carbonate.carbon_at_ph(solutes, ph, temperature), temperature)

    @classmethod
    def from_mg_l(
        cls, ions_mg_l: Mapping[str, Array | float], ph: Array | float, temperature_k: Array | float
    ) -> Water:
        """Waters from mg/L by name (absent: zero; HCO3: alkalinity as HCO3) and pH. KeyError on an unknown name."""
        lanes = np.broadcast_shapes(*(np.shape(value) for value in (*ions_mg_l.values(), ph, temperature_k)))
        solutes = np.zeros((*lanes, len(SOLUTES)))
        for name, value in ions_mg_l.items():
            solutes[..., INDEX[name]] = np.asarray(value) * MG_L / MOLAR_MASS[INDEX[name]]
        return cls.from_ph(solutes, ph, temperature_k)

    def with_temperature(self, temperature_k: Array | float) -> Water:
        """The same water warmed or cooled in a closed vessel: solutes and carbon stay, pH moves."""
        return replace(self, temperature_k=np.asarray(temperature_k, dtype=np.float64))

    def mixed(self, other: Water, share: Array | float) -> Water:
        """This water with a volume share [0, 1] of another, lane by lane; temperatures mix alike."""
        part = np.asarray(share, dtype=np.float64)
        return Water(
            self.solutes + part[..., None] * (other.solutes - self.solutes),
            self.carbon + part * (other.carbon - self.carbon),
            self.temperature_k + part * (other.temperature_k - self.temperature_k),
        )

    def __getitem__(self, lanes: Lanes) -> Water:
        """Some of the lanes, by any numpy index over the leading dimensions."""
        return Water(self.solutes[lanes], self.carbon[lanes], self.temperature_k[lanes])

    @property
    def lanes(self) -> tuple[int, ...]:
        """Shape of the batch."""
        return cast("tuple[int, ...]", self.solutes.shape[:-1])

    def ions_mg_l(self) -> dict[str, Array]:
        """Concentrations in mg/L by name, each (...)."""
        milligrams = self.solutes * MOLAR_MASS / MG_L
        return {name: milligrams[..., column] for name, column in INDEX.items()}

    @cached_property
    def equilibrium(self) -> carbonate.Equilibrium:
        """Speciation at the water's own temperature."""
        return carbonate.equilibrium(self.solutes, self.carbon, self.temperature_k)

    @property
    def ph(self) -> Array:
        """pH at the water's own temperature."""
        return self.equilibrium.ph

    @property
    def co2(self) -> Array:
        """CO2(aq) [mol/m3], H2CO3 included."""
        return self.equilibrium.co2

    @property
    def bicarbonate(self) -> Array:
        """Free HCO3- [mol/m3]."""
        return self.equilibrium.bicarbonate

    @property
    def carbonate(self) -> Array:
        """Free CO3-- [mol/m3]."""
        return self.equilibrium.carbonate

    @property
    def ionic_strength(self) -> Array:
        """Ionic strength [mol/L], pairs taken off."""
        return self.equilibrium.medium.ionic_strength

    @cached_property
    def conductivity_at_temperature(self) -> Array:
        """Conductivity at the water's own temperature [S/m], uncompensated."""
        return conductivity.conductivity(self.solutes, self.equilibrium, self.temperature_k)

    @cached_property
    def conductivity(self) -> Array:
        """Conductivity the same water has when brought to 25 °C in a closed vessel [S/m]."""
        return self.with_temperature(T25).conductivity_at_temperature

    @property
    def tds(self) -> Array:
        """Sum of dissolved ions and silica [kg/m3], alkalinity as HCO3; CO2 is not counted."""
        return np.asarray(self.solutes @ MOLAR_MASS)

    @property
    def residue(self) -> Array:
        """What is left on drying [kg/m3]: bicarbonate ends as carbonate (0.4917 of its mass), silica and salts stay."""
        lost = (1.0 - _CARBONATE_PER_BICARBONATE) * MOLAR_MASS[_ALK] * np.maximum(self.solutes[..., _ALK], 0.0)
        return np.asarray(self.tds - lost)

    @property
    def hardness(self) -> Array:
        """Calcium and magnesium as CaCO3 [kg/m3]."""
        return np.asarray(self.solutes[..., _HARDNESS].sum(-1) * CACO3)

    @property
    def alkalinity_caco3(self) -> Array:
        """Total alkalinity as CaCO3 [kg/m3]; negative in an acid water."""
        return np.asarray(self.solutes[..., _ALK] * 0.5 * CACO3)

    @cached_property
    def osmotic(self) -> Array:
        """Osmotic pressure [Pa]."""
        return osmotic.osmotic_pressure(self.solutes, self.temperature_k)
