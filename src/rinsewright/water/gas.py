"""Carbon dioxide that leaves an open tank."""

from __future__ import annotations

import numpy as np

from rinsewright.quantities import HOUR, Array
from rinsewright.sources import Sourced

GAS_VELOCITY = Sourced(
    0.02 / HOUR,
    "m/s",
    "0.005 to 0.05 m/h",
    "still water under a vented lid",
    "Cole et al., Limnol. Oceanogr. Methods 8, 285, 2010: 0.35 to 0.74 m/d on small lakes with little wind (abstract "
    "read); a tank under its lid taken as one of them",
    "assumed",
)


def co2_behind_tank(
    co2: Array | float,
    air_co2: Array | float,
    residence_s: Array | float,
    depth_m: Array | float,
    velocity: Array | float = GAS_VELOCITY.value,
) -> Array:
    """CO2(aq) [mol/m3] in a vented, well-mixed tank fed with ``co2``, of which part goes off towards the air's level.

    Share lost of what is above the air's level: N/(1 + N), N = velocity [m/s] · residence [s] / depth [m]. ``air_co2``
    is the CO2(aq) in equilibrium with the air; water below that level is left as it is.
    """
    exchanged = np.asarray(velocity) * np.asarray(residence_s) / np.asarray(depth_m)
    excess = np.maximum(np.asarray(co2) - np.asarray(air_co2), 0.0)
    return np.asarray(co2 - excess * exchanged / (1.0 + exchanged))
