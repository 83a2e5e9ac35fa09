"""A number with its pedigree: nothing physical enters the package without saying where it comes from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

Standing = Literal[
    "measured", "read", "reproduced", "data sheet", "fitted", "assumed", "from memory", "common practice"
]


@dataclass(frozen=True)
class Sourced:
    """A value, its unit, how well it is known, where it holds, who says so and how far that can be trusted.

    ``uncertainty`` is in words or in the value's unit ("1 %", "last digit"); ``standing`` is one of :data:`Standing`:
    *read* in the source itself or a copy of it, *reproduced* by calculation from read values, *fitted* here to the
    reference, *from memory* not yet checked against the source, *common practice* without any source.
    """

    value: float
    unit: str
    uncertainty: str
    valid: str
    reference: str
    standing: Standing

    def __post_init__(self) -> None:
        if not self.reference.strip():
            raise ValueError(f"a sourced value needs a reference ({self.value} {self.unit} has none)")
        if self.standing not in get_args(Standing):
            raise ValueError(f"unknown standing {self.standing!r}; one of {', '.join(get_args(Standing))}")
