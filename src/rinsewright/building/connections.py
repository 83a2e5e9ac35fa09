"""The way of the water, end by end: which ends meet, what goes between them, and how the tube is cut.

Tap, feed parts, membranes, drain and product parts follow one another as they stand in the site file, with what it
leaves out in its place (:mod:`rinsewright.building.added`). Between two parts with no tube between them goes a short
link of the line's tube. Elements side by side are joined by tees, stages by a
link from drain to feed. Every meeting of two ends is judged by :func:`rinsewright.plant.joints.joint`, and the fitting
that it proposes is counted.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from rinsewright.building.added import USUAL_OUTLET, Added, with_added
from rinsewright.building.result import Cut, Fit
from rinsewright.catalogue.loader import load_catalogue
from rinsewright.plant.feed.pump import Pump
from rinsewright.plant.feed.treatment import Cartridge, Softener
from rinsewright.plant.joints import End, counterpart, joint
from rinsewright.plant.layout import Plant
from rinsewright.plant.membrane.element import Element
from rinsewright.plant.membrane.restrictor import Flush, Restrictor
from rinsewright.plant.part import Part
from rinsewright.plant.product.line import Blend, DeliveryPump, Lift, ResinVessel, ShutOff, Tank
from rinsewright.plant.tube import Tube
from rinsewright.quantities import MM
from rinsewright.site.checks import path_of
from rinsewright.site.document import SiteDocument

LINK = 0.3  # m of tube between two neighbours (assumed)
TO_TAP = 1.0  # m from the tap to the first part where no tube is given (assumed)
TO_DRAIN = 2.0  # m from the last part to the drain where no tube is given (assumed)
BY_PASS = 1.0  # m from the by-pass valve to a bucket, while the membranes rinse (assumed)
BACK_TO_PUMP = 1.0  # m of tube that returns drain water to the pump (assumed)
TAP, DRAIN, BUCKET = "supply", "drain", "bucket"  # keys of the places where the plant ends
HOSE_THREAD = ("US", "CA")  # countries whose garden taps have the thread NH

# What is taken where the site file gives no ends. Common practice, no source; always named in the notes.
USUAL = {
    Cartridge: "G 1/2 female",
    Softener: "G 1/2 female",
    Pump: "push-fit 3/8 in",
    DeliveryPump: "push-fit 3/8 in",
    ResinVessel: "G 3/4 female",
    Tank: USUAL_OUTLET,
}
PORTS = {"80": "Rp 1", "40": "Rp 1/2", "25": "Rp 3/8"}  # of a membrane housing, by its first two digits
SMALL_PORT = "Rp 1/4"
TUBES = {"80": "1 in", "40": "1/2 in", "25": "3/8 in", "": "1/2 in"}  # of a plant without any tube
SMALL_TUBE = "1/4 in"


@dataclass(frozen=True)
class Piece:
    """So many of one connection to be bought, and the parts it belongs to; ``what`` is "fitting" or "tee"."""

    what: str
    size: str
    count: int
    serves: tuple[str, ...]


@dataclass(frozen=True)
class Connections:
    """All joints, pieces and cuts of a plant.

    ``tubes`` maps the key of a tube of the plant (or of a height that no tube rises) to its end and length [m],
    ``links`` the end of a tube to the length added between parts, ``covered`` a height to the tube that rises it.
    ``added`` are the parts on the way that the site file leaves out. ``taken`` says which ends were taken for want of
    better, ``no_way`` which joints no single fitting makes.
    """

    fits: tuple[Fit, ...]
    pieces: tuple[Piece, ...]
    cuts: tuple[Cut, ...]
    tubes: dict[str, tuple[End, float]]
    links: dict[End, float]
    line_tube: dict[str, End]
    tap: End
    covered: dict[str, str]
    added: tuple[Added, ...]
    taken: tuple[str, ...]

    @property
    def ends(self) -> tuple[End, ...]:
        """Every end that has to be made tight: those that meet, and both of each fitting between."""
        met = [end for fit in self.fits for end in (fit.a, fit.b)]
        between = [counterpart(end) for fit in self.fits if _is_fitting(fit.joint.adapter) for end in (fit.a, fit.b)]
        return (*met, *between)

    @property
    def no_way(self) -> tuple[Fit, ...]:
        """Joints that neither fit nor have one fitting that makes them fit."""
        return tuple(fit for fit in self.fits if not fit.joint.fits and fit.joint.adapter is None)


def connect(document: SiteDocument, plant: Plant) -> Connections:
    """The connections of a plant, as its site file gives them or as is usual."""
    return _Way(document, plant).walk()


def nominal(element: Element) -> str:
    """The four digits of an element's size, "4040"; "" where it has none."""
    found = re.search(r"(?<!\d)(?!00)\d\d(?!00)\d\d(?!\d)", element.nominal)
    return found.group() if found else ""


def cartridge_size(document: SiteDocument, part: Part) -> tuple[str, bool]:
    """The size of a cartridge, "10 in slim", and whether it was assumed: from its catalogue name, as far as it says."""
    name = str(getattr(_keys(document, part), "size", None) or "")
    found = re.search(r"(\d+) ?in\b", name)
    wide = "wide" if re.search(r"wide|big|4\.5", name) else "slim"
    return (f"{found.group(1)} in {wide}", False) if found else ("10 in slim", True)


def tube_end(tube: Tube) -> tuple[End, bool]:
    """The end of a tube cut square, and whether it was assumed: the tube of the catalogue with the nearest bore."""
    if tube.hose:
        return End("hose", f"{tube.bore / MM:.6g} mm", "female"), False
    if tube.outside:
        return End("tube", tube.outside, "male"), False
    known = [values for entry in load_catalogue().entries["tubes"].values() if "outside" in (values := entry.values)]
    near = min(known, key=lambda values: abs(values["bore_mm"] * MM - tube.bore))
    return End("tube", near["outside"], "male"), True


def _keys(document: SiteDocument, part: Part) -> object:
    """The table of the site file that a part was built from."""
    found: object = document.model
    for step in path_of(part.key):
        found = found[step] if isinstance(step, int) else getattr(found, step)  # type: ignore[index]
    return found


def _is_fitting(adapter: str | None) -> bool:
    return bool(adapter and adapter.startswith("fitting"))


@dataclass(frozen=True)
class _Port:
    """An open end that the way has reached.

    ``loose``: that of a tube, which joins its neighbour without a link. ``added``: of a part that is bought to fit.
    """

    key: str
    name: str
    end: End
    loose: bool = False
    given: bool = False
    added: bool = False


class _Way:
    """Follows the water and notes every joint, fitting and piece of tube."""

    def __init__(self, document: SiteDocument, plant: Plant) -> None:
        self.document, self.plant = document, plant
        self.fits: list[Fit] = []
        self.counts: dict[tuple[str, str], int] = {}  # of each piece to be bought
        self.serves: dict[tuple[str, str], list[str]] = {}  # keys of the parts that it joins
        self.return_to: _Port | None = None  # where returned drain water enters the feed
        self.cuts: list[Cut] = []
        self.tubes: dict[str, tuple[End, float]] = {}
        self.links: dict[End, float] = {}
        self.covered: dict[str, str] = {}
        self.assumed: dict[str, list[str]] = {}  # an end in words, the names of those it was taken for
        self.line_tube = {line: self._line_tube(line) for line in ("feed", "drain", "product")}
        self.tap = self._tap()
        self.lines = with_added(plant, self.tap, self.line_tube)
        self.at_tap = {TAP, *(part.key for part in self.lines.at_tap)}

    def walk(self) -> Connections:
        """The whole plant."""
        port = self._feed(_Port(TAP, "tap", self.tap, given=True))
        if self.plant.stages:
            port = self._membranes(port)
        for part in self.lines.product:
            port = self._through(port, part, "product", self.plant.product)
        return Connections(
            fits=tuple(self.fits),
            pieces=tuple(
                Piece(what, size, self.counts[what, size], tuple(dict.fromkeys(serves)))
                for (what, size), serves in self.serves.items()
            ),
            cuts=_merged(self.cuts),
            tubes=self.tubes,
            links=self.links,
            line_tube=self.line_tube,
            tap=self.tap,
            covered=self.covered,
            added=self.lines.added,
            taken=tuple(f"{end} at the {_listed(names)}" for end, names in self.assumed.items()),
        )

    # ---- the lines ----

    def _feed(self, port: _Port) -> _Port:
        for part in (*self.lines.at_tap, *self.lines.feed):
            if part is self.plant.pump and self.plant.recirculation > 0.0:
                port = self._tee(port, _Port(part.key, part.name, port.end), "feed")
                self.return_to = port
            port = self._through(port, part, "feed", self.plant.feed)
        for part in self.plant.product:
            if isinstance(part, Blend):
                port = self._tee(port, _Port(part.key, part.name, port.end), "feed")
                self._link(port, self._ports(part, "product")[-1], "feed")
            if isinstance(part, ShutOff):  # its other half shuts the feed
                entry, exit_ = self._ports(part, "feed")[-2:]
                self._link(port, entry, "feed")
                port = exit_
        for part in self.lines.gauge:
            port = self._through(port, part, "feed", self.plant.feed)
        return port

    def _membranes(self, port: _Port) -> _Port:
        product: list[_Port] = []
        for stage in self.plant.stages:
            housings = [self._housing(element) for element in stage]
            self._spread(port, [feed for feed, _, _ in housings])
            port = self._gather([drain for _, drain, _ in housings], "drain")
            product += [outlet for _, _, outlet in housings]
        self._drain(port)
        return self._gather(product, "product")

    def _drain(self, port: _Port) -> None:
        if self.return_to:
            port = self._tee(port, port, "drain")
            back = port
            for valve in self.lines.returned:
                back = self._through(back, valve, "drain", self.plant.drain)
            self._link(back, self.return_to, "drain", BACK_TO_PUMP)
        flushes = [part for part in self.plant.drain if isinstance(part, Flush)]
        for part in self.lines.drain:
            if isinstance(part, Restrictor | Added) and flushes:
                port = self._beside(port, part, flushes)
                flushes = []
            elif not isinstance(part, Flush) or part in flushes:
                port = self._through(port, part, "drain", self.plant.drain)
        if not port.loose:
            self._link(port, None, "drain", TO_DRAIN)

    def _beside(self, port: _Port, restrictor: Part, flushes: Sequence[Part]) -> _Port:
        """A restrictor with its flush valves side by side."""
        entry, exit_ = self._ports(restrictor, "drain")[:2]
        before = port
        for flush in flushes:
            before = self._tee(before, self._ports(flush, "drain")[0], "drain")
        self._link(before, entry, "drain")
        for flush in flushes:
            flush_in, flush_out = self._ports(flush, "drain")[:2]
            exit_ = self._tee(exit_, flush_out, "drain")
            self._link(before, flush_in, "drain")
            self._link(flush_out, exit_, "drain")
        return exit_

    def _through(self, port: _Port, part: Part, line: str, whole: Sequence[Part]) -> _Port:
        """Into a part and out of it again."""
        if isinstance(part, Lift):
            return self._rise(port, part, line, whole)
        if isinstance(part, Tube):
            entry, exit_ = self._ports(part, line)
            end = tube_end(part)[0]
            self._link(port, entry, line)
            self._cut(line, end, part.length, f"the {part.name}", assumed=False)
            self.tubes[part.key] = (end, part.length)
            return exit_
        entry, exit_ = self._ports(part, line)[:2]
        away = port.key in self.at_tap and part.key not in self.at_tap
        self._link(port, entry, line, TO_TAP if away else LINK)
        if part.key == "also.bypass":
            self._link(exit_, _Port(BUCKET, "bucket", self.line_tube[line], loose=True), line)
            self._piece_of_tube(line, self.line_tube[line], BY_PASS, f"from the {part.name} to the bucket")
        if isinstance(part, Cartridge):
            self._inside(part, line, "cartridge", cartridge_size(self.document, part)[0])
        if isinstance(part, ResinVessel):
            for _ in range(part.vessels - 1):
                self._link(exit_, entry, line)
        return exit_

    def _rise(self, port: _Port, lift: Lift, line: str, whole: Sequence[Part]) -> _Port:
        """A height: risen by the tube before or behind it, else by a piece of the line's tube of that length."""
        at = whole.index(lift)
        beside = [part for part in whole[max(0, at - 1) : at + 2] if isinstance(part, Tube)]
        if beside:
            self.covered[lift.key] = beside[0].key
            return port
        end, length = self.line_tube[line], max(LINK, abs(lift.height))
        self._link(port, _Port(lift.key, lift.name, end, loose=True), line)
        way = "rise" if lift.height >= 0.0 else "fall"
        self._cut(line, end, length, f"the {way} of {abs(lift.height):g} m", assumed=True)
        self.tubes[lift.key] = (end, length)
        return _Port(lift.key, lift.name, end, loose=True)

    def _housing(self, element: Element) -> tuple[_Port, _Port, _Port]:
        digits = nominal(element)
        if digits:
            self._inside(element, "membranes", "membrane", digits)
        feed, drain, product = self._ports(element, "membranes")
        return feed, drain, product

    def _inside(self, part: Part, line: str, kind: str, size: str) -> None:
        """What sits in a housing of its size."""
        male, female = End(kind, size, "male"), End(f"{kind} housing", size, "female")
        self.fits.append(Fit((part.key, f"{part.key}.housing"), line, male, female, joint(male, female)))

    # ---- joining ----

    def _link(self, a: _Port, b: _Port | None, line: str, length: float = LINK, fit_line: str | None = None) -> None:
        """Join two ends: directly where one is a loose tube's or both are made for one another, else by a link.

        Without ``b`` the link ends in the open, above the drain's air gap.
        """
        where = fit_line or line
        if b:
            known = b.added or (a.given and b.given)
            if a.loose or b.loose or (known and joint(a.end, b.end).fits):
                self._meet(a, b, a.end, b.end, where)
                return
        tube = self.line_tube[line]
        self._meet(a, b, a.end, tube, where)
        if b:
            self._meet(a, b, tube, b.end, where)
        to = f"from the {a.name} to the {b.name}" if b else f"from the {a.name} to the drain"
        self._piece_of_tube(where, tube, length, to)

    def _meet(self, a: _Port, b: _Port | None, one: End, other: End, line: str) -> None:
        keys = (a.key, b.key if b else DRAIN)
        found = joint(one, other)
        self.fits.append(Fit(keys, line, one, other, found))
        if found.adapter is None:
            return
        if _is_fitting(found.adapter):
            self._piece("fitting", found.adapter.removeprefix("fitting: "), keys)
        else:  # two ports alike, with a piece of tube or hose between
            end = End.parse(found.adapter.removeprefix("piece of "))
            self._piece_of_tube(line, end, LINK, f"from the {a.name} to the {b.name if b else 'drain'}")

    def _piece(self, what: str, size: str, serves: Sequence[str]) -> None:
        self.counts[what, size] = self.counts.get((what, size), 0) + 1
        self.serves.setdefault((what, size), []).extend(key for key in serves if key.startswith("plant."))

    def _tee(self, port: _Port, beside: _Port, line: str, fit_line: str | None = None) -> _Port:
        """A tee of the line's tube behind a port, named after the part beside it; returns its free ends."""
        end = counterpart(self.line_tube[line])
        tee = _Port(beside.key, f"tee at the {beside.name}", end)
        self._link(port, tee, line, fit_line=fit_line)
        self._piece("tee", str(end), (port.key, beside.key))
        return tee

    def _spread(self, port: _Port, inlets: Sequence[_Port]) -> None:
        """From one port to several side by side."""
        for inlet in inlets[:-1]:
            port = self._tee(port, inlet, "feed", "membranes")
            self._link(port, inlet, "feed", fit_line="membranes")
        self._link(port, inlets[-1], "feed", fit_line="membranes")

    def _gather(self, outlets: Sequence[_Port], line: str) -> _Port:
        """From several ports into one."""
        port = outlets[0]
        for outlet in outlets[1:]:
            port = self._tee(port, outlet, line, "membranes")
            self._link(outlet, port, line, fit_line="membranes")
        return port

    def _piece_of_tube(self, line: str, tube: End, length: float, where: str) -> None:
        """A link that the site file does not have."""
        self._cut(line, tube, length, where, assumed=True)
        self.links[tube] = self.links.get(tube, 0.0) + length

    def _cut(self, line: str, end: End, length: float, where: str, assumed: bool) -> None:
        size = end.size if end.kind == "tube" else str(end)
        self.cuts.append(Cut(line, size, length, 1, where, assumed))

    # ---- the ends ----

    def _tap(self) -> End:
        supply = self.document.model.supply
        if supply is not None and supply.end is not None:
            return End.parse(supply.end)
        words = "NH 3/4 male" if self.document.model.site.country in HOSE_THREAD else "G 3/4 male"
        self._take(words, "tap")
        return End.parse(words)

    def _ports(self, part: Part, line: str) -> list[_Port]:
        """The ends of a part in flow order; two that stand for feed in and out of a shut-off too, if not given."""
        if part.ends:
            loose, added = isinstance(part, Tube), isinstance(part, Added)
            if added:
                self._take(" to ".join(dict.fromkeys(map(str, part.ends))), part.name)
            return [_Port(part.key, part.name, end, loose, given=True, added=added) for end in part.ends]
        if isinstance(part, Tube):
            end, assumed = tube_end(part)
            if assumed:
                self._take(str(end), part.name)
            return [_Port(part.key, part.name, end, loose=True)] * 2
        if isinstance(part, Element):
            end = End.parse(PORTS.get(nominal(part)[:2], SMALL_PORT))
            self._take(str(end), f"housing of the {part.name}")
            return [_Port(part.key, part.name, end)] * 3
        usual = USUAL.get(type(part))
        end = End.parse(usual) if usual else counterpart(self.line_tube[line])
        self._take(str(end), part.name)
        return [_Port(part.key, part.name, end)] * 2

    def _take(self, end: str, name: str) -> None:
        names = self.assumed.setdefault(end, [])
        if name not in names:
            names.append(name)

    def _line_tube(self, line: str) -> End:
        """The tube that links the parts of a line: its own first one, else that of another line, else the usual."""
        lines = {"feed": self.plant.feed, "product": self.plant.product, "drain": self.plant.drain}
        for parts in (lines[line], *lines.values()):
            for part in parts:
                if isinstance(part, Tube):
                    plain = [end for end in part.ends if end.kind in ("tube", "hose")]
                    return plain[0] if plain else tube_end(part)[0]
        first = nominal(self.plant.elements[0])[:2] if self.plant.elements else ""
        size = TUBES.get(first, SMALL_TUBE)
        self._take(f"tube {size}", "lines")
        return End("tube", size, "male")


def _merged(cuts: Sequence[Cut]) -> tuple[Cut, ...]:
    """Pieces of one line, size and length together."""
    merged: dict[tuple[str, str, float, bool], list[str]] = {}
    for cut in cuts:
        merged.setdefault((cut.line, cut.size, cut.length_m, cut.assumed), []).append(cut.where)
    return tuple(
        Cut(line, size, length, len(places), "; ".join(dict.fromkeys(places)), assumed)
        for (line, size, length, assumed), places in merged.items()
    )


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
