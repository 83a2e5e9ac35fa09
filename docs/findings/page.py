"""What the findings pages share: edited site files, their years, a chart, and the writing."""

from __future__ import annotations

import re
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise
from pathlib import Path
from textwrap import fill
from typing import Any

import numpy as np

from rinsewright.api import Site
from rinsewright.costs.prices import Costs
from rinsewright.planning import SEED
from rinsewright.planning.pricing import priced
from rinsewright.planning.year import MarchedYear, march_members, march_year
from rinsewright.quantities import US_CM, Array
from rinsewright.seasons.ledger import Ledger

HERE = Path(__file__).parent
DEMO = HERE.parents[1] / "examples" / "tern-quay.toml"

# --- site files ---


def demo() -> str:
    """The demo's site file."""
    return DEMO.read_text(encoding="utf-8")


def edited(text: str, **values: Any) -> str:
    """The site file with other values for keys that it has, wherever they stand."""
    for key, value in values.items():
        text, found = re.subn(rf"(?m)^{key} = .*$", f"{key} = {value}", text)
        if not found:
            raise KeyError(key)
    return text


def replaced(text: str, old: str, new: str, count: int = 1) -> str:
    """The site file with ``old``, which must stand in it, replaced the first ``count`` times."""
    if old not in text:
        raise KeyError(old)
    return text.replace(old, new, count)


def tables(text: str) -> list[str]:
    """The site file cut before each table, so that a part can be left out or added."""
    return re.split(r"(?m)^(?=\[)", text)


def without(text: str, mark: str, count: int = 1) -> str:
    """The site file less the last ``count`` tables that hold ``mark``."""
    cut = tables(text)
    places = [n for n, table in enumerate(cut) if mark in table][-count:]
    if len(places) < count:
        raise KeyError(mark)
    return "".join(table for n, table in enumerate(cut) if n not in places)


# --- a year ---


@dataclass(frozen=True)
class Year:
    """A marched year, or several drawn by chance: its site, its ledger and what it costs."""

    site: Site
    marched: MarchedYear
    ledger: Ledger
    costs: Costs

    def sum(self, name: str) -> float:
        """A sum over the year of a quantity of the ledger, the median of members."""
        return float(np.median(getattr(self.ledger, name).sum(axis=1)))

    @property
    def total(self) -> Array:
        """Cost of the year, (members)."""
        return np.asarray(sum(self.costs.split.values()))

    @property
    def before_ppm(self) -> float:
        """Mean reading behind the membranes, before any resin."""
        return self.sum("salt") / self.sum("product") / US_CM * self.marched.case.demand.meter_factor

    @property
    def worst_ppm(self) -> float:
        """Highest reading that reached the brush."""
        return float(np.median(self.ledger.worst.max(axis=1))) / US_CM * self.marched.case.demand.meter_factor

    @property
    def starts_a_day(self) -> float:
        """Starts on a working day."""
        return self.sum("starts") / float((self.ledger.demand > 0.0).sum(axis=1).mean())


def year_of(text: str, members: int = 1) -> Year:
    """The year of a site file; with more than one member as many years, drawn from the same chance for every site."""
    site = Site.loads(text)
    if members == 1:
        marched = march_year(site.document, site.plant, site.tap)
    else:
        marched = march_members(site.document, site.plant, site.tap, members, SEED)
    return Year(site, marched, marched.ledger, priced(site.document, site.plant, marched.ledger))


def filled(text: str, start: str, end: str) -> str:
    """The site file with its tap open only between two times of the day."""
    return replaced(text, "[demand]", f'[demand]\nfill_from = "{start}"\nfill_until = "{end}"')


def by_night(text: str) -> str:
    """The site file with its tap open by night only."""
    return filled(text, *NIGHT)


NIGHT = ("20:00", "06:00")


# --- the page ---


def near(value: float, digits: int = 2) -> str:
    """A number as one would say it: rounded to so many digits."""
    if value == 0.0:
        return "0"
    power = 10.0 ** (np.floor(np.log10(abs(value))) - digits + 1)
    rounded = float(power * np.round(value / power))
    return f"{rounded:,.{max(0, -int(np.log10(power) - 0.5))}f}"


def table(header: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A Markdown table, numbers to the right."""
    lines = [header, ["---", *["---:"] * (len(header) - 1)], *rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def wrapped(words: str) -> str:
    """The same words in lines of at most 120 characters; headings, tables and pictures stay as they are."""
    blocks = []
    for block in words.split("\n\n"):
        if block.lstrip().startswith(("#", "|", "!", "<")):
            blocks.append(block)
            continue
        items = [" ".join(item.split()) for item in re.split(r"\n(?=- )", block.strip())]
        blocks.append("\n".join(_filled(item) for item in items))
    return "\n\n".join(blocks)


def _filled(words: str) -> str:
    indent = "  " * words.startswith("- ")
    return fill(words, 120, break_on_hyphens=False, subsequent_indent=indent)


def write(script: str, words: str, facts: Mapping[str, Any], picture: str) -> None:
    """Write the page and the picture of a script: beside it, or into the folder that the command names."""
    name = Path(script).stem
    out = Path(sys.argv[1]) if len(sys.argv) > 1 else HERE
    made = f"<!-- Made by docs/findings/{name}.py; change that, not this. -->"
    title, rest = words.strip().format_map(facts).split("\n", 1)
    command = f"Every number on this page is written by `python docs/findings/{name}.py`."
    (out / f"{name}.md").write_text(f"{title}\n\n{made}\n\n{wrapped(rest.strip())}\n\n{command}\n", encoding="utf-8")
    (out / f"{name}.svg").write_text(picture, encoding="utf-8")


# --- the chart ---

WIDTH, HEIGHT = 690, 330
LEFT, RIGHT, TOP, BOTTOM = 64, 190, 34, 46
STYLE = """
  svg { font: 14px system-ui, sans-serif; background: #FBF8F1; }
  text { fill: #15252B; } .quiet { fill: #4A5A5F; } .axis { stroke: #4A5A5F; stroke-width: 1; }
  path { fill: none; stroke-width: 2.5; }
  .a { stroke: #00616E; } .b { stroke: #9B1C1C; stroke-dasharray: 9 5; }
  .c { stroke: #3B3A8F; stroke-dasharray: 2 4; } .d { stroke: #7A4B00; stroke-dasharray: 12 4 2 4; }
  .band { stroke: none; fill: #00616E; opacity: 0.15; }
  @media (prefers-color-scheme: dark) {
    svg { background: #10191C; } text { fill: #E9EFEA; } .quiet { fill: #A9B8B6; } .axis { stroke: #A9B8B6; }
    .a { stroke: #6FD3DC; } .b { stroke: #FF9C94; } .c { stroke: #B3B4FF; } .d { stroke: #FFC46B; }
    .band { fill: #6FD3DC; }
  }
"""


@dataclass(frozen=True)
class Line:
    """One line of a chart, named at its right end; ``low`` and ``high`` draw a band around it."""

    label: str
    x: Array
    y: Array
    low: Array | None = None
    high: Array | None = None


def chart(title: str, across: str, up: str, lines: Sequence[Line]) -> str:
    """A small line chart as SVG. The vertical axis begins at 0."""
    x0, x1 = (float(end([end(line.x) for line in lines])) for end in (np.min, np.max))
    tops = [line.y if line.high is None else line.high for line in lines]
    step_y = _step(max(float(np.max(top)) for top in tops))
    y1 = step_y * np.ceil(max(float(np.max(top)) for top in tops) / step_y)
    step_x = _step(x1 - x0)

    def at(x: Any, y: Any) -> tuple[Array, Array]:
        return (
            LEFT + (np.asarray(x) - x0) / (x1 - x0) * (WIDTH - LEFT - RIGHT),
            HEIGHT - BOTTOM - np.asarray(y) / y1 * (HEIGHT - TOP - BOTTOM),
        )

    def path(x: Array, y: Array) -> str:
        return "M" + " L".join(f"{a:.1f},{b:.1f}" for a, b in zip(*at(x, y), strict=True))

    parts = [f'<text x="{LEFT - 40}" y="{TOP - 14}" class="quiet">{escape(up)}</text>']
    for y in np.arange(0.0, y1 + 0.5 * step_y, step_y):
        parts.append(f'<text x="{LEFT - 8}" y="{at(x0, y)[1] + 5:.1f}" text-anchor="end">{_tick(y, step_y)}</text>')
    for x in np.arange(step_x * np.ceil(x0 / step_x - 1e-9), x1 + 1e-9, step_x):
        place = f'x="{at(x, 0)[0]:.1f}" y="{HEIGHT - BOTTOM + 18}"'
        parts.append(f'<text {place} text-anchor="middle">{_tick(x, step_x)}</text>')
    middle = 0.5 * (LEFT + WIDTH - RIGHT)
    parts.append(f'<text x="{middle:.0f}" y="{HEIGHT - 8}" class="quiet" text-anchor="middle">{escape(across)}</text>')
    parts.append(f'<path class="axis" d="M{LEFT},{TOP} L{LEFT},{HEIGHT - BOTTOM} L{WIDTH - RIGHT},{HEIGHT - BOTTOM}"/>')
    for kind, line in zip("abcd", lines, strict=False):
        if line.low is not None and line.high is not None:
            there, back = path(line.x, line.high), path(line.x[::-1], line.low[::-1])
            parts.append(f'<path class="band" d="{there} L{back[1:]} Z"/>')
        parts.append(f'<path class="{kind}" d="{path(line.x, line.y)}"/>')
    for line, height in zip(lines, _apart([float(at(line.x[-1], line.y[-1])[1]) for line in lines]), strict=True):
        parts.append(f'<text x="{WIDTH - RIGHT + 8}" y="{height + 5:.1f}">{escape(line.label)}</text>')
    body = "\n".join(parts)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" height="{HEIGHT}" '
        f'role="img" aria-label="{escape(title)}">\n<title>{escape(title)}</title>\n'
        f"<style>{STYLE}</style>\n{body}\n</svg>\n"
    )


def _step(span: float) -> float:
    """A round distance between ticks that makes four to eight of them."""
    power = 10.0 ** np.floor(np.log10(span / 4.0))
    return float(power * next(m for m in (1, 2, 5, 10) if span / (m * power) <= 8.0))


def _tick(value: float, step: float) -> str:
    return f"{abs(float(value)):,.{max(0, -int(np.floor(np.log10(step) + 1e-9)))}f}"


def _apart(heights: Sequence[float], least: float = 17.0) -> list[float]:
    """Heights of labels, moved so that none covers another."""
    order = np.argsort(heights)
    placed = np.array(heights, dtype=float)
    for before, after in pairwise(order):
        placed[after] = max(placed[after], placed[before] + least)
    return [float(height) for height in placed]
