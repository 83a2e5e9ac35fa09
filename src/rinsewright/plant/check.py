"""A check valve, on the feed or the product line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from rinsewright.plant.part import Fluid, Part
from rinsewright.quantities import Array


@dataclass(frozen=True, kw_only=True)
class Check(Part):
    """Water passes one way. ``crack_pa`` is lost while it is open (none unless stated)."""

    crack_pa: float = 0.0

    def drop(self, flow: Array, fluid: Fluid) -> Array:
        """The opening pressure [Pa], at any flow."""
        return np.full_like(flow, self.crack_pa)
