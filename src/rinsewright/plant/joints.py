"""Whether two ends go together, and what goes between them if they do not.

An :class:`End` is a tube, a fitting's port, a thread, a hose, a tail, a cartridge, an element or a housing. Whether two
of them make a tight joint follows from their sizes and from how the joint seals; no list of pairs is kept:

- tube: outside diameters within what an O-ring or an olive takes up;
- hose: the tail within the bores that a hose of that name may have;
- thread: pitch diameter at hand-tight engagement, threads to the inch, flank angle, and both made tight in the same
  place (on the thread, which asks for a taper on the male one, or on a face with a washer);
- cartridge and element: across and along.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction

from rinsewright.errors import InputError, Problem
from rinsewright.quantities import MM
from rinsewright.sources import Sourced

INCHES = 25.4 * MM  # m, exact

PUSH_FIT_TOLERANCE = Sourced(
    0.1 * MM, "m", "hard tube; soft polyurethane +0.15, -0.2 mm", "outside diameters of 3 to 16 mm",
    "a maker's cautions for tube in push-in fittings; the sizes are those of ISO 14743", "read",
)  # fmt: skip
OLIVE_TOLERANCE = Sourced(
    0.04 * MM, "m", "0.05 mm from 22 mm up", "mean outside diameter of copper tube of 6 to 18 mm",
    "EN 1057, as printed by a tube maker", "read",
)  # fmt: skip
HOSE_TOLERANCE = Sourced(
    0.8 * MM, "m", "0.1 mm", "bores up to 20 mm, hose made without a mandrel",
    "EN ISO 1307:2008, as printed by a hose maker", "read",
)  # fmt: skip
CARTRIDGE_DIAMETER = {
    "slim": Sourced(2.5 * INCHES, "m", "a few mm", "nominal", "a chart of cartridge sizes", "read"),
    "wide": Sourced(4.5 * INCHES, "m", "a few mm", "nominal", "a chart of cartridge sizes", "read"),
}
LARGEST_STEP = Sourced(
    4.5, "larger over smaller nominal size", "3 to 6", "one fitting", "what is on the shelf", "assumed"
)
TURNS = 5  # of a pipe thread screwed in by hand and spanner, for saying how far two pitches part


@dataclass(frozen=True)
class Thread:
    """One pipe thread: count to the inch, pitch diameter [m] at hand-tight engagement, angle of the flanks [°]."""

    count: float
    pitch_diameter: Sourced
    flank_degrees: float

    @property
    def pitch(self) -> float:
        """From crest to crest [m]."""
        return INCHES / self.count

    @property
    def depth(self) -> float:
        """How deep the thread is cut [m], 0.64 of the pitch (Whitworth's form; the others differ little)."""
        return 0.640327 * self.pitch


def _whitworth(count: float, major_mm: float) -> Thread:
    """Pitch diameter = major diameter − 0.640327 P, alike in ISO 228-1 and at the gauge plane of ISO 7-1."""
    diameter = major_mm * MM - 0.640327 * INCHES / count
    reference = "ISO 228-1 and ISO 7-1, basic sizes, as printed in thread tables"
    return Thread(count, Sourced(diameter, "m", "0.001 mm", "basic size", reference, "reproduced"), 55.0)


def _npt(count: float, pitch_diameter_mm: float) -> Thread:
    reference = "ASME B1.20.1, E1, as printed in a pipe supplier's table"
    return Thread(count, Sourced(pitch_diameter_mm * MM, "m", "0.001 mm", "basic size", reference, "read"), 60.0)


WHITWORTH = {  # both standards
    "1/16": _whitworth(28, 7.723),
    "1/8": _whitworth(28, 9.728),
    "1/4": _whitworth(19, 13.157),
    "3/8": _whitworth(19, 16.662),
    "1/2": _whitworth(14, 20.955),
    "3/4": _whitworth(14, 26.441),
    "1": _whitworth(11, 33.249),
    "1 1/4": _whitworth(11, 41.910),
    "1 1/2": _whitworth(11, 47.803),
    "2": _whitworth(11, 59.614),
}
PARALLEL = WHITWORTH | {  # ISO 228-1 alone: ISO 7-1 has no taper thread of these sizes
    "5/8": _whitworth(14, 22.911),
    "7/8": _whitworth(14, 30.201),
    "1 1/8": _whitworth(11, 37.897),
    "1 3/4": _whitworth(11, 53.746),
}
NPT = {
    "1/16": _npt(27, 7.142),
    "1/8": _npt(27, 9.489),
    "1/4": _npt(18, 12.487),
    "3/8": _npt(18, 15.926),
    "1/2": _npt(14, 19.772),
    "3/4": _npt(14, 25.117),
    "1": _npt(11.5, 31.461),
    "1 1/4": _npt(11.5, 40.218),
    "1 1/2": _npt(11.5, 46.287),
    "2": _npt(11.5, 58.325),
}
GARDEN_HOSE = {  # 1.0625 in over the crests (read in public guides), less 0.6495 P of the 60° form
    "3/4": Thread(
        11.5,
        Sourced(1.0625 * INCHES - 0.649519 * INCHES / 11.5, "m", "0.2 mm", "largest", "ASME B1.20.7", "reproduced"),
        60.0,
    )
}


@dataclass(frozen=True)
class Kind:
    """A sort of end: what it can be, what it enters or takes (``meets``), and for threads sizes, seal and taper."""

    genders: tuple[str, ...]
    meets: tuple[str, ...]
    threads: dict[str, Thread] = field(default_factory=dict)
    seals_on: str = ""  # "thread" or "face": what the female one is made for
    taper: bool = False


BOTH = ("male", "female")
THREADS = ("G", "R", "Rp", "Rc", "NPT", "NH")
# The first that is named under ``meets`` is the usual counterpart; a thread meets every thread and its sizes decide.
KINDS = {
    "tube": Kind(("male",), ("push-fit", "compression")),
    "stem": Kind(("male",), ("push-fit", "compression")),  # the plain end of a fitting
    "push-fit": Kind(("female",), ("stem", "tube")),
    "compression": Kind(("female",), ("stem", "tube")),
    "hose": Kind(("female",), ("tail",)),
    "tail": Kind(("male",), ("hose",)),
    "snap": Kind(BOTH, ("snap",)),
    "G": Kind(BOTH, ("G", *THREADS), PARALLEL, "face"),
    "R": Kind(("male",), ("Rp", *THREADS), WHITWORTH, "thread", taper=True),
    "Rp": Kind(("female",), ("R", *THREADS), WHITWORTH, "thread"),
    "Rc": Kind(("female",), ("R", *THREADS), WHITWORTH, "thread", taper=True),
    "NPT": Kind(BOTH, ("NPT", *THREADS), NPT, "thread", taper=True),
    "NH": Kind(BOTH, ("NH", *THREADS), GARDEN_HOSE, "face"),
    "cartridge": Kind(("male",), ("cartridge housing",)),
    "cartridge housing": Kind(("female",), ("cartridge",)),
    "membrane": Kind(("male",), ("membrane housing",)),
    "membrane housing": Kind(("female",), ("membrane",)),
}
OTHER_NAMES = {"push fit": "push-fit", "pushfit": "push-fit", "hose tail": "tail", "bspp": "G", "ght": "NH"}
BSP = (  # an older name of both threads: the first word that is found says what to write instead
    ("bspt", "for BSPT say R (male), Rc (female, taper) or Rp (female, parallel), as R 1/2 male"),
    ("bspp", "for BSPP say G, as G 1/2 male"),
    ("bsp", "for BSP say G (parallel), R (taper, male), Rp or Rc (female), as G 1/2 male"),
)


@dataclass(frozen=True)
class End:
    """One end of a part. ``size`` is as spoken ("1/4 in", "12 mm", "3/4", "10 in slim", "4040"), ``gender`` the side.

    What goes into something is male (tube, stem, tail, cartridge, membrane), what takes it female (push-fit,
    compression, hose, housings). Raises InputError for what does not exist.
    """

    kind: str
    size: str
    gender: str

    def __post_init__(self) -> None:
        kind = KINDS.get(self.kind)
        if kind is None:
            raise _refused(f"no end is called {self.kind!r}; known are {', '.join(KINDS)}")
        if self.gender not in kind.genders:
            raise _refused(f"{self.kind} is {' or '.join(kind.genders)}, not {self.gender or 'without either'}")
        object.__setattr__(self, "size", _size(self.kind, self.size))

    @classmethod
    def parse(cls, text: str) -> End:
        """An end from words: kind, size, and male or female where the kind leaves it open ("G 1/2 male")."""
        words = " ".join(re.sub(r'"|″|inch(es)?', " in ", text).split())
        known = {name.lower(): name for name in KINDS} | OTHER_NAMES
        names = sorted((n for n in known if re.match(re.escape(n) + r"(?![a-z-])", words.lower())), key=len)
        if not names:
            hint = next((f"; {hint}" for name, hint in BSP if name in words.lower()), "")
            raise _refused(f"{text!r} does not begin with a kind of end ({', '.join(KINDS)}){hint}")
        kind, rest = known[names[-1]], words[len(names[-1]) :].strip().lower()
        size, _, gender = rest.rpartition(" ")
        if gender not in BOTH:
            size, gender = rest, KINDS[kind].genders[0] if len(KINDS[kind].genders) == 1 else ""
        if not gender:
            raise _refused(f"{text!r} does not say whether it is male or female")
        return cls(kind, size, gender)

    def __str__(self) -> str:
        said = self.kind in THREADS or self.kind == "snap"
        return " ".join(word for word in (self.kind, self.size, self.gender if said else "") if word)


@dataclass(frozen=True)
class Joint:
    """Whether two ends make a tight joint, the one part that joins them if not (None: there is none), and why."""

    fits: bool
    adapter: str | None
    why: str


def joint(a: End, b: End) -> Joint:
    """The joint of two ends, in whichever order they are named."""
    a, b = sorted((a, b), key=lambda end: (end.gender != "male", str(end)))
    if a.gender == b.gender:
        fits, why = False, f"Both are {a.gender}: neither enters the other."
    elif b.kind not in KINDS[a.kind].meets:
        fits, why = False, f"{a} and {b} are not made for one another."
        if (a.kind, b.kind) == ("tube", "hose"):
            why += " A plain tube slips out of a hose: a hose goes over a tail."
    else:
        fits, why = _meet(a, b)
    why = why[0].upper() + why[1:]
    if fits:
        return Joint(True, None, why)
    adapter, note = _adapter(a, b)
    return Joint(False, adapter, f"{why} {note}".strip())


def apart(a: End, b: End) -> float | None:
    """How much larger the male end is than the female one [m], both measured where they meet; None if they cannot."""
    male, female = (a, b) if a.gender == "male" else (b, a)
    if male.gender == female.gender or female.kind not in KINDS[male.kind].meets or male.kind == "snap":
        return None
    return diameter(male) - diameter(female)


def diameter(end: End) -> float:
    """The diameter that decides [m]: a tube's outside, a hose's bore, a thread's pitch diameter, across a cartridge."""
    if end.kind in THREADS:
        return _thread(end).pitch_diameter.value
    if end.kind.startswith(("cartridge", "membrane")):
        return _across_and_along(end)[0]
    return _length(end.size)


def counterpart(end: End) -> End:
    """What is made for this end: of the other gender, alike in size."""
    kind = KINDS[end.kind].meets[0]
    return End(kind, end.size, "female" if end.gender == "male" else "male")


# ------------------------------------------------------------------------------------------------- the ways of meeting


def _meet(male: End, female: End) -> tuple[bool, str]:
    if male.kind in THREADS:
        return _threads(male, female)
    if male.kind == "snap":
        return True, "They click together. For watering by hand; not for a line left alone under pressure."
    if male.kind == "tail":
        return _hose(male, female)
    if male.kind == "cartridge":
        return _cartridge(male, female)
    if male.kind == "membrane":
        return _membrane(male, female)
    return _tube(male, female)


def _tube(tube: End, port: End) -> tuple[bool, str]:
    """A tube in a ring: outside diameters within the ring's tolerance."""
    olive = port.kind == "compression"
    tolerance = (OLIVE_TOLERANCE if olive else PUSH_FIT_TOLERANCE).value
    gap = diameter(tube) - diameter(port)
    sizes = f"{_mm(diameter(tube))} outside in a fitting for {_mm(diameter(port))}"
    if abs(gap) <= tolerance:
        care = "The olive closes on it; a plastic tube wants an insert." if olive else "Cut it square and push it home."
        near = f", {_mm(abs(gap))} apart, which the fitting takes up" if abs(gap) > 1e-9 else ""
        return True, f"{sizes}{near}. {care}"
    if gap > 0.0:
        harm = "It does not enter the olive." if olive else "It does not go home; forced, it cuts the O-ring and leaks."
    elif olive:
        harm = "The olive does not close on it, and it leaks or blows off."
    else:
        harm = "It goes in and seems to hold, but O-ring and collet do not close on it: it leaks or blows off."
    if olive and "in" in tube.size:
        harm += " (Old copper pipe is named by its bore: measure the outside.)"
    return False, f"{sizes}: {_misfit(gap)}. {harm}"


def _hose(tail: End, hose: End) -> tuple[bool, str]:
    """A hose over a tail: the tail within the bores that a hose of this name may have."""
    gap = diameter(tail) - diameter(hose)
    sizes = f"A tail for {_mm(diameter(tail))} in a bore of {_mm(diameter(hose))}"
    if abs(gap) <= HOSE_TOLERANCE.value:
        return True, f"{sizes}. Push the hose over all barbs and tighten a clip on it."
    harm = "The hose splits or does not go over it." if gap > 0.0 else "A clip creases the hose and does not seal it."
    return False, f"{sizes}: {_misfit(gap)}. {harm}"


def _threads(male: End, female: End) -> tuple[bool, str]:
    """Two threads: pitch diameter, then pitch, then angle, then where the joint is made tight."""
    m, f = _thread(male), _thread(female)
    gap = m.pitch_diameter.value - f.pitch_diameter.value
    if abs(gap) > min(m.depth, f.depth):
        return False, f"{male} is {_misfit(gap)} for {female}: the threads do not take hold."
    if abs(m.pitch - f.pitch) > 1e-3 * f.pitch:
        step = _mm(TURNS * abs(m.pitch - f.pitch), 2)
        return False, (
            f"{m.count:g} and {f.count:g} threads to the inch: they start and then bind, {step} out of step "
            f"after {TURNS} turns. Forced together they leak, and the softer thread is spoilt."
        )
    if m.flank_degrees != f.flank_degrees:
        return False, (
            f"Both have {m.count:g} threads to the inch and differ by {_mm(abs(gap), 2)} in pitch diameter, so they "
            f"screw together; but the flanks stand at {m.flank_degrees:g}° and {f.flank_degrees:g}°. Such a joint "
            "leaks, with tape too, and tightening it further splits plastic."
        )
    return _seal(male, female)


def _seal(male: End, female: End) -> tuple[bool, str]:
    """Two threads that screw together rightly: tight only if both are made to be tight in the same place."""
    on = "thread" if KINDS[male.kind].taper else "face", KINDS[female.kind].seals_on  # a parallel one never wedges
    if on == ("face", "face"):
        return True, "A washer or an O-ring on the face makes it tight; tape on the thread does not."
    if on == ("thread", "thread"):
        return True, "It is made tight on the thread, with tape or a thread sealant."
    if on[0] == "face":
        return False, (
            f"{male} is parallel and made tight by a washer on its face; {female} is made for a taper thread and has "
            "no face for a washer. On the thread alone it leaks."
        )
    return False, (
        f"{male} is taper and is made tight on the thread, in Rp or Rc; {female} is made for a washer on its face, and "
        "its hole may be larger than Rp. With tape it may hold or leak."
    )


def _cartridge(cartridge: End, housing: End) -> tuple[bool, str]:
    faults = _faults(cartridge, housing)
    if not faults:
        return True, "Its two open ends seal on the rims of the housing."
    return False, _harm("The cartridge", faults, {
        "wide": "It does not go in.",
        "long": "The housing does not close.",
        "narrow": "It does not stay on the rims, and water passes unfiltered.",
        "short": "It does not reach both rims, and water passes unfiltered.",
    })  # fmt: skip


def _membrane(element: End, housing: End) -> tuple[bool, str]:
    faults = _faults(element, housing)
    if not faults:
        return True, "The brine seal meets the wall and the product tube both end caps; grease the O-rings."
    return False, _harm("The element", faults, {
        "wide": "It does not go in.",
        "long": "The housing does not close.",
        "narrow": "The brine seal does not reach the wall, and the feed passes the element by.",
        "short": "Its product tube does not reach both end caps, and feed gets into the product.",
    })  # fmt: skip


def _harm(what: str, faults: str, harms: dict[str, str]) -> str:
    return " ".join([f"{what} is {faults}.", *(harm for word, harm in harms.items() if word in faults)])


def _adapter(a: End, b: End) -> tuple[str | None, str]:
    """One part with the two opposite ends, or None and what to do instead."""
    if any(end.kind.startswith(("cartridge", "membrane")) for end in (a, b)):
        return None, "Nothing goes between them: take the part that is made for it."
    x, y = counterpart(a), counterpart(b)
    for plain, piece in (("stem", "tube"), ("hose", "hose")):
        if x == y and x.kind == plain:
            return f"piece of {piece} {x.size}", ""
    if "hose" in (x.kind, y.kind):
        return None, "A tail takes a hose of its size and nothing else: change one of the two parts."
    sizes = [_nominal(end) for end in (a, b) if end.kind != "snap"]
    if sizes and max(sizes) > LARGEST_STEP.value * min(sizes):
        return None, "The sizes are too far apart for one fitting: step down in two."
    return f"fitting: {x} to {y}", ""


# --------------------------------------------------------------------------------------------------------------- sizes


def _thread(end: End) -> Thread:
    return KINDS[end.kind].threads[end.size]


def _across_and_along(end: End) -> tuple[float, float]:
    """Diameter and length [m] of what goes into a housing, from its name."""
    if end.kind.startswith("membrane"):  # two digits tenths of an inch across, two digits inches long
        return int(end.size[:2]) / 10.0 * INCHES, int(end.size[2:]) * INCHES
    length, _, width = end.size.split()
    return CARTRIDGE_DIAMETER[width].value, int(length) * INCHES


def _faults(inner: End, housing: End) -> str:
    """What is wrong with the sizes, in words; empty if nothing is."""
    words = (("narrow", "wide"), ("short", "long"))
    pairs = zip(words, _across_and_along(inner), _across_and_along(housing), strict=True)
    wrong = [
        f"{_mm(abs(has - wants))} too {more if has > wants else less}"
        for (less, more), has, wants in pairs
        if abs(has - wants) > 0.5 * MM
    ]
    return " and ".join(wrong)


def _nominal(end: End) -> float:
    """The size that an end is called by [m]."""
    return _inches(end.size) * INCHES if KINDS[end.kind].threads else diameter(end)


def _inches(size: str) -> float:
    return float(sum(Fraction(part) for part in size.split()))


def _length(size: str) -> float:
    number, unit = size.rsplit(" ", 1)
    return _inches(number) * (INCHES if unit == "in" else MM)


def _mm(metres: float, decimals: int = 4) -> str:
    return f"{round(metres / MM, decimals):g} mm"


def _misfit(gap: float) -> str:
    return f"{_mm(abs(gap))} too {'large' if gap > 0.0 else 'small'}"


SMALLEST, LARGEST = 1.0 * MM, 150.0 * MM  # of tubes and hoses, so that a slip of the unit is seen
NUMBER = r"(\d+[ -])?\d+/[1-9]\d*|\d+(\.\d+)?"


def _size(kind: str, size: str) -> str:
    """A size in its usual spelling; InputError if the kind has none such."""
    size = " ".join(size.split())
    threads = KINDS[kind].threads
    if kind == "snap":
        if size:
            raise _refused(f"snap couplings have one size; {size!r} says nothing here")
        return ""
    if threads:
        name = size.removesuffix("in").strip().replace("-", " ")
        if name not in threads:
            raise _refused(f"no {kind} thread is called {size!r}; known are {', '.join(threads)}")
        return name
    if kind.startswith("membrane"):
        return _matching(r"(?!00)\d\d(?!00)\d\d", kind, size, "four digits such as 4040")
    if kind.startswith("cartridge"):
        return _matching(r"(?!0)\d+ in (slim|wide)", kind, size, "such as 10 in slim or 20 in wide")
    spaced = re.sub(r"(?<=\d)(?=in$|mm$)", " ", size)
    number, _, unit = _matching(rf"({NUMBER}) (in|mm)", kind, spaced, "such as 1/4 in or 6 mm").rpartition(" ")
    value = sum(Fraction(part) for part in number.replace("-", " ").split())
    if not SMALLEST <= float(value) * (INCHES if unit == "in" else MM) <= LARGEST:
        raise _refused(f"the size of {kind} is from {_mm(SMALLEST)} to {_mm(LARGEST)}, not {size!r}")
    whole, rest = divmod(value, 1)
    if unit == "in" and rest:
        return f"{f'{whole} ' if whole else ''}{rest} in"
    return f"{float(value):.6g} {unit}"


def _matching(pattern: str, kind: str, size: str, right: str) -> str:
    if not re.fullmatch(pattern, size):
        raise _refused(f"the size of {kind} is {right}, not {size!r}")
    return size


def _refused(message: str) -> InputError:
    return InputError(Problem(message))
