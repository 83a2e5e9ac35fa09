"""Where the equations of a plan come from: those that this plant called for, each with how far it was checked.

The formulas name their sources where they stand. Here they are listed, each with the place of its formula, so that a
plan can say what it rests on; the checks compare the two. Values and their origins are in
:mod:`rinsewright.planning.assumptions`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from rinsewright.planning.situation import Situation
from rinsewright.plant.feed.treatment import Cartridge
from rinsewright.plant.part import Part
from rinsewright.plant.tube import Tube
from rinsewright.sources import Standing

Rule = Callable[[Situation], bool]


@dataclass(frozen=True)
class Equation:
    """An equation's source. ``formula`` is its place in this package, "module:name"; ``used`` tells by which plants."""

    what: str
    citation: str
    standing: Standing
    formula: str
    used: Rule


def _always(s: Situation) -> bool:
    return True


def _membranes(s: Situation) -> bool:
    return s.has_membranes


def _resin(s: Situation) -> bool:
    return s.plant.resin is not None


def _has(kind: type[Part]) -> Rule:
    return lambda s: s.first(kind) is not None


EQUATIONS: tuple[Equation, ...] = (
    Equation(
        "carbonate system: pH, carbon dioxide and lime",
        "Plummer & Busenberg, Geochim. Cosmochim. Acta 46, 1982, 1011",
        "read",
        "water.carbonate:LOG_K",
        _always,
    ),
    Equation(
        "weak acids and ion pairs",
        "Nordstrom et al., ACS Symp. Ser. 416, 1990, 398, as in the database wateq4f.dat",
        "read",
        "water.carbonate:LOG_K",
        _always,
    ),
    Equation(
        "activity of the ions",
        "Davies, Ion Association, 1962",
        "from memory",
        "water.carbonate:davies",
        _always,
    ),
    Equation(
        "conductivity of each ion",
        "CRC Handbook of Chemistry and Physics, ionic conductivity and diffusion at infinite dilution (Vanysek)",
        "read",
        "water.ions:SPECIES",
        _always,
    ),
    Equation(
        "conductivity of the mixture",
        "Onsager's limiting law (Debye, Hückel and Onsager), its range widened here to 0.1 mol/L",
        "from memory",
        "water.conductivity:conductivity",
        _always,
    ),
    Equation(
        "density of water",
        "Kell, J. Chem. Eng. Data 20, 1975, 97",
        "reproduced",
        "water.properties:density",
        _always,
    ),
    Equation(
        "viscosity of water",
        "IAPWS, revised supplementary release on properties of liquid water at 0.1 MPa",
        "reproduced",
        "water.properties:viscosity",
        _always,
    ),
    Equation(
        "saturation of minerals",
        "PHREEQC with its database phreeqc.dat; barite's solubility after wateq4f.dat",
        "reproduced",
        "water.speciation:speciate",
        _always,
    ),
    Equation(
        "when lime is sure to scale",
        "Brecevic & Nielsen, J. Cryst. Growth 98, 1989, 504 (amorphous calcium carbonate)",
        "from memory",
        "water.scaling:AMORPHOUS",
        _membranes,
    ),
    Equation(
        "osmotic pressure",
        "Robinson & Stokes, Electrolyte Solutions (Gibbs-Duhem integral of the Davies equation)",
        "from memory",
        "water.osmotic:osmotic_coefficient",
        _membranes,
    ),
    Equation(
        "water and salt through the membrane",
        "solution-diffusion with film theory at the wall, as in any text on membranes",
        "from memory",
        "plant.membrane.channel:flux",
        _membranes,
    ),
    Equation(
        "mass transfer and friction in the feed channel",
        "Schock & Miquel, Desalination 64, 1987, 339; the formulas as quoted elsewhere, the paper itself not seen",
        "read",
        "plant.membrane.channel:channel",
        _membranes,
    ),
    Equation(
        "how ions share what passes",
        "Yaroshchuk, Bruening & Licon Bernal, J. Membr. Sci. 447, 2013, 463",
        "from memory",
        "plant.membrane.transport:transmission",
        _membranes,
    ),
    Equation(
        "working point of the plant",
        "Broyden's quasi-Newton method, 1965, from finite-difference slopes",
        "from memory",
        "solve.steady:steady",
        _membranes,
    ),
    Equation(
        "friction in tubes",
        "Darcy–Weisbach with Colebrook, 1939; laminar below Reynolds number 2000, a blend of our own up to 4000",
        "reproduced",
        "plant.tube:friction_factor",
        _has(Tube),
    ),
    Equation(
        "loss of cartridges and resin beds",
        "Darcy's law: linear in flow and in viscosity",
        "read",
        "plant.part:ViscousPart",
        lambda s: s.first(Cartridge) is not None or _resin(s),
    ),
    Equation(
        "what carbon takes of the chlorine",
        "Meng et al., Water Pract. Technol. 13, 2018, 19 (first order; the rate is assumed)",
        "read",
        "plant.feed.cartridge:FREE_CHLORINE_RATE",
        lambda s: s.cartridge("carbon") is not None,
    ),
    Equation(
        "order in which the resin lets go",
        "Helfferich & Klein, Multicomponent Chromatography, 1970",
        "from memory",
        "plant.product.resin:exhaustion",
        _resin,
    ),
    Equation(
        "affinity of the ions to the resin",
        "Bonner & Smith, J. Phys. Chem. 61, 1957; anions from memory",
        "from memory",
        "plant.product.resin:CATION_SELECTIVITY",
        _resin,
    ),
)


def sources(s: Situation) -> list[dict[str, str]]:
    """Rows of what, citation and standing, of the equations that this plan used."""
    return [{"what": one.what, "citation": one.citation, "standing": one.standing} for one in EQUATIONS if one.used(s)]
