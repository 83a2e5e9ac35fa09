"""The parts as a fitter sees them: outlines with the inlet at (0, 0), the outlet at (width, rise), y downwards.

Bodies are opaque (filled with paper), so that a pipe may be drawn straight underneath. Classes: ``o`` outline, ``f``
fine line, ``k`` filled with ink, ``w`` water.
"""

from __future__ import annotations

from dataclasses import dataclass

from rinsewright.papers.drawing.surface import Point

Line = tuple[Point, ...]


@dataclass(frozen=True)
class Symbol:
    """An outline and the room it takes above (``up``) and below (``down``) the pipe's axis.

    ``rise`` is the outlet's level below the inlet's. ``runs`` are the pipes seen at the part; None is straight through.
    ``turns``: on an upright stem the symbol is turned a quarter, flow downwards; the others stay as they stand.
    """

    width: float
    up: float
    down: float
    body: str
    rise: float = 0.0
    runs: tuple[Line, ...] | None = None
    turns: bool = False

    @property
    def lines(self) -> tuple[Line, ...]:
        """The pipes of the part itself, from its inlet and to its outlet."""
        return (((0.0, 0.0), (self.width, 0.0)),) if self.runs is None else self.runs


def _dots(left: float, right: float, top: float, bottom: float, step: float, radius: float) -> str:
    """Grains in staggered rows."""
    dots, row, y = [], 0, top
    while y <= bottom:
        x = left + (step / 2 if row % 2 else 0)
        while x <= right:
            dots.append(f'<circle class="k" cx="{x:g}" cy="{y:g}" r="{radius:g}"/>')
            x += step
        y, row = y + 0.866 * step, row + 1
    return "".join(dots)


def _hung(inside: str, bottom: float = 70) -> str:
    """A housing hanging from its head."""
    return (
        f'<path class="o" d="M9,8 V{bottom - 9:g} Q9,{bottom:g} 18,{bottom:g}'
        f' H28 Q37,{bottom:g} 37,{bottom - 9:g} V8 Z"/>{inside}'
        '<path class="o" d="M4,-6 H9 V-11 H37 V-6 H42 V6 H39 V11 H7 V6 H4 Z"/><path class="f" d="M7,6 H39"/>'
    )


WOUND = (
    "".join(f'<path class="f" d="M14,{y} L32,{y - 7}"/>' for y in range(23, 64, 6))
    + '<path class="f" d="M14,13 V62 H32 V13"/>'
)
PUMP = (
    '<path class="o" d="M32,-13 H60 Q63,-13 63,-10 V10 Q63,13 60,13 H32 Z"/>'
    + "".join(f'<path class="f" d="M{x},-9 V9"/>' for x in range(40, 60, 5))
    + '<circle class="o" cx="20" cy="0" r="16"/><path class="k" d="M13,-8 L29,0 L13,8 Z"/>'
    '<path class="o" d="M14,20 H58 M20,16 V20 M50,13 V20"/>'
)
VALVE = '<path class="o" d="M5,-9 L35,9 V-9 L5,9 Z"/>'

SYMBOLS: dict[str, Symbol] = {
    "tap": Symbol(
        48,
        24,
        16,
        '<path class="f" d="M-1,-16 V16 M-1,-10 L-7,-4 M-1,0 L-7,6 M-1,10 L-7,16"/>'
        '<path class="o" d="M0,-9 H5 V-6 H34 V-4 H48 V4 H34 V6 H5 V9 H0 Z"/>'
        '<path class="o" d="M17,-6 L18,-15 H24 L25,-6 Z"/>'
        '<path class="o" d="M9,-22 H33 Q35,-18.5 33,-15 H9 Q7,-18.5 9,-22 Z"/>',
        runs=(),
    ),
    "break-tank": Symbol(
        64,
        6,
        64,
        '<path class="w" d="M9,30 H55 V59 H9 Z"/><path class="o hollow" d="M8,16 V60 H56 V16"/>'
        '<path class="f" d="M9,30 q6,-4 11.5,0 t11.5,0 t11.5,0 t11.5,0"/>'
        '<path class="f drop" d="M22,12 V27"/>',
        rise=52,
        runs=(((0, 0), (22, 0), (22, 9)), ((57, 52), (64, 52))),
    ),
    "well": Symbol(
        56,
        8,
        66,
        '<path class="f" d="M-4,12 H10 M46,12 H58 M-3,19 l5,-7 M50,19 l5,-7"/>'
        '<path class="w" d="M12,44 H44 V64 H12 Z"/><path class="o hollow" d="M11,4 V65 H45 V4"/>'
        '<path class="f" d="M12,44 q5.3,-4 10.6,0 t10.6,0 t10.6,0"/><path class="k" d="M25,50 h6 v9 h-6 z"/>',
        runs=(((28, 52), (28, 0), (56, 0)),),
    ),
    "tube": Symbol(
        44,
        20,
        20,
        '<circle class="o" cx="22" cy="0" r="18"/><circle class="f" cx="22" cy="0" r="14"/>'
        '<circle class="f" cx="22" cy="0" r="10"/>',
    ),
    "cartridge-sediment": Symbol(46, 13, 72, _hung(WOUND)),
    "cartridge-carbon": Symbol(
        46, 13, 72, _hung('<path class="f" d="M14,13 V62 H32 V13"/>' + _dots(17.5, 30, 18, 60, 5, 1.3))
    ),
    "pump": Symbol(66, 18, 22, PUMP),
    "delivery-pump": Symbol(66, 18, 22, PUMP),
    "softener": Symbol(
        76,
        13,
        74,
        '<path class="o" d="M6,20 Q6,9 14,8 H30 Q38,9 38,20 V72 H6 Z"/>'
        + _dots(11, 34, 34, 68, 6, 1.8)
        + '<path class="o" d="M10,-11 H34 V8 H10 Z"/>'
        '<path class="w" d="M45,46 H71 V72 H45 Z"/><path class="o hollow" d="M44,32 H72 V72 H44 Z"/>'
        '<path class="f" d="M38,26 H58 V60"/>',
    ),
    "inhibitor": Symbol(
        46,
        13,
        48,
        _hung(
            '<path class="k" d="M15,38 l4,-4 4,4 -4,4 z M23,38 l4,-4 4,4 -4,4 z M19,31 l4,-4 4,4 -4,4 z '
            'M27,31 l3,-4 3,4 -3,4 z"/>',
            46,
        ),
    ),
    "check": Symbol(
        40,
        12,
        12,
        '<path class="o" d="M4,-5 L9,-10 H31 L36,-5 V5 L31,10 H9 L4,5 Z"/>'
        '<path class="k" d="M12,-6 L25,0 L12,6 Z"/><path class="o" d="M27,-6 V6"/>',
        turns=True,
    ),
    "solenoid": Symbol(
        40,
        34,
        11,
        VALVE + '<path class="o" d="M20,0 V-12 M10,-12 H30 V-32 H10 Z"/>'
        '<path class="f" d="M13,-17 L27,-15 M13,-22 L27,-20 M13,-27 L27,-25"/>',
        turns=True,
    ),
    "restrictor": Symbol(
        48, 11, 11, '<path class="o" d="M4,-9 H13 L22,-2.5 H26 L35,-9 H44 V9 H35 L26,2.5 H22 L13,9 H4 Z"/>', turns=True
    ),
    "flush": Symbol(
        40,
        30,
        11,
        VALVE + '<path class="o" d="M20,0 V-10"/><circle class="o" cx="20" cy="-19" r="9.5"/>'
        '<path class="f" d="M20,-25 V-19 L24,-16"/>',
        turns=True,
    ),
    "shutoff": Symbol(
        50,
        24,
        24,
        '<path class="o" d="M8,-8 Q8,-22 25,-22 Q42,-22 42,-8 V15 H8 Z"/>'
        '<path class="f" d="M8,-6 H42 M14,-6 Q25,2 36,-6"/><path class="k" d="M21,0 h8 v9 h-8 z"/>'
        '<path class="o" d="M16,15 V22 M34,15 V22"/>',
    ),
    "lift": Symbol(
        46,
        56,
        12,
        '<path class="f" d="M4,10 H42 M4,-54 H42 M38,6 V-38"/>'
        '<path class="k" d="M38,-44 L41.5,-36 H34.5 Z M38,9 L41.5,1 H34.5 Z"/>',
        rise=-46,
        runs=(((0, 0), (20, 0), (20, -46), (46, -46)),),
    ),
    "resin": Symbol(
        54,
        14,
        88,
        '<path class="o" d="M5,26 Q5,9 18,8 H36 Q49,9 49,26 V86 H5 Z"/>'
        + _dots(11, 45, 38, 82, 6.6, 2.1)
        + '<path class="f" d="M5,32 H49"/><path class="o" d="M13,-11 H41 V8 H13 Z"/><path class="f" d="M13,3 H41"/>',
    ),
    "tank": Symbol(
        104,
        12,
        96,
        '<path class="w" d="M9,34 H95 V90 H9 Z"/>'
        '<path class="f" d="M9,34 q5.375,-4 10.75,0 t10.75,0 t10.75,0 t10.75,0 t10.75,0 t10.75,0 t10.75,0 t10.75,0"/>'
        '<path class="o hollow" d="M8,-8 V91 H96 V-8"/><path class="f" d="M26,12 L56,28"/>'
        '<circle class="o" cx="62" cy="32" r="8"/><path class="k" d="M22,8 h8 v8 h-8 z"/>',
        rise=80,
        runs=(((0, 0), (26, 0), (26, 10)), ((97, 80), (104, 80))),
    ),
    "blend": Symbol(40, 11, 24, VALVE + '<path class="o" d="M20,0 L12,20 H28 Z"/>', turns=True),
    "brush": Symbol(
        98,
        28,
        28,
        '<path class="o" d="M6,-4 H30 V-3 H52 V-2 H70 V2 H52 V3 H30 V4 H6 Z"/>'
        '<path class="o" d="M68,-25 H78 V25 H68 Z"/>'
        + "".join(f'<path class="f" d="M78,{y} L92,{y + (y > 0) - (y < 0)}"/>' for y in range(-22, 23, 4)),
        runs=(((0, 0), (6, 0)),),
        turns=True,
    ),
    "gully": Symbol(
        64,
        6,
        66,
        '<path class="f" d="M28,16 H44 M28,40 H44 M36,20 V36"/>'
        '<path class="k" d="M36,16 l2.5,5 h-5 z M36,40 l2.5,-5 h-5 z"/><path class="f drop" d="M16,20 V38"/>'
        '<path class="o" d="M0,42 H32 V46 L26,50 V62 H6 V50 L0,46 Z"/>'
        '<path class="f" d="M5,42 V46 M10,42 V46 M16,42 V46 M22,42 V46 M27,42 V46 M-6,44 H0 M32,44 H58"/>',
        runs=(((0, 0), (16, 0), (16, 16)),),
    ),
}


def housing(width: float, height: float) -> str:
    """A membrane housing, lying, its left end at (0, 0) and the axis at y = 0."""
    half = height / 2
    cap = 9
    return (
        f'<path class="o" d="M{cap},{-half + 3:g} H{width - cap:g} V{half - 3:g} H{cap} Z"/>'
        f'<path class="o" d="M0,{-half:g} H{cap} V{half:g} H0 Z M{width - cap:g},{-half:g} H{width:g} '
        f'V{half:g} H{width - cap:g} Z"/>'
    )
