"""How easily each solute passes the membrane, relative to NaCl on the same element.

The element's data sheet sets the level; this table sets the order. It is drawn from two read sources: measured
rejections of a polyamide element on sea salt (K, Na 99.0–99.6 %, Ca, Mg, Sr 99.6–99.8 %, Cl 99.5 %, boron 85.8 % at
15 L/(m2 h); open raw data, one 2.5 in element), and a public list of typical thin-film rejections by ion (secondary;
estimates: SO4 99+, PO4 99+, Ca, Mg 96–98, Cl 94–95, HCO3 95–96, F 94–96, NO3 93–96, NH4 85–95, K 92, silica 85–90,
boron 50–70 %). Passage there, divided by that of NaCl, is the ratio. Na and Cl are 1, so that NaCl itself passes
exactly as rated.

Each ratio is uncertain by about a factor 1.5; it moves the composition of the product, hardly the flow.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from rinsewright.water.ions import CHARGE, SOLUTES

PERMEANCE_RATIO: Final[dict[str, float]] = {
    "Ca": 0.4,
    "Mg": 0.4,
    "Na": 1.0,
    "K": 1.3,
    "NH4": 1.7,
    "Fe": 0.3,
    "Mn": 0.4,
    "Sr": 0.4,
    "Ba": 0.4,
    "HCO3": 0.9,
    "SO4": 0.15,
    "Cl": 1.0,
    "NO3": 2.0,
    "F": 1.0,
    "PO4": 0.15,
    "SiO2": 2.0,
    "B": 40.0,
}
CO2_RATIO: Final = 3000.0  # carbon dioxide is not held back: same strength on both sides (read in general texts)

RATIO: Final = np.array([PERMEANCE_RATIO[name] for name in SOLUTES] + [CO2_RATIO])
# Phosphate crosses mostly as HPO4--; it is counted with its conservative charge.
PASSING_CHARGE: Final = np.append(CHARGE, 0.0)
