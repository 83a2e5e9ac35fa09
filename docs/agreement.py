"""Writes `agreement.md`, every published value beside ours: ``python docs/agreement.py``.

It runs the tests in `tests/published/` and writes only if all of them pass. With ``--check`` nothing is written: where
the page differs from what it would be, the difference is shown and the status is 1.
"""

from __future__ import annotations

import difflib
import json
import math
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT)]

from docs.generating.markdown import anchor, table  # noqa: E402

PAGE = ROOT / "docs" / "agreement.md"
WHOLE_ANSWERS = "tests/published/test_through_the_door.py"
CLOSED = 2e-6  # a tolerance below this share of the value asks for the same formula: the error is rounding, not shown
FARTHEST = 10  # rows of the summary
NUMBER = re.compile(r"([+−]?\d+(?:\.\d+)?)")

STANDINGS = {
    "read": "Seen in the source itself, or in a copy or quotation of it.",
    "reproduced": "Calculated from what was read, by hand or with a general-purpose library.",
    "from memory": "Known in the field and not looked up; also what was calculated from remembered inputs.",
    "constructed": "Not published: calculated by ourselves another way, to hold one formula against another.",
}

HEAD = """\
# Agreement with published values

<!-- Made by `python docs/agreement.py` from the tests in tests/published. Change the tests, then run it again. -->

Every published value that the tests hold this program against, and what it gives. A row is a test: where ours leaves
its tolerance, the tests fail and this page is not written. The tolerance comes from the printed digits or from what
the source says of itself; where it is a choice, the reason stands beside it. The last column leads to the formula.

*Whole answer* marks a row that goes in as a site file and comes out as an answer, as a user has them. The others ask
the formula alone. An error of *none* is one of rounding, where the same formula is asked for to all its digits.

## What is not proven

- **No figure here is compared with readings from a plant in a yard.** None have been taken yet.
- **The one measured element is a high-pressure one** ([its table]({rig})), at 14 to 46 bar on salt water. It shows
  that the equations hold together. It does not prove them at 3 bar on tap water, where osmotic pressure is small and
  the channel runs slowly.
- How each ion passes rests on that same element and on one abstract about boron. Another membrane may pass ions in
  other proportions.
- How permeances fall in the cold is uncertain by about 10 % at 5 °C: [the published forms differ]({forms}) by that
  much.
- Some laws were fitted to what they are compared with: conductivity to the tables of potassium and sodium chloride,
  to ISO 7888 and to pure water. Those rows show the fit, not a prediction.
- Saturation indices are PHREEQC's own. Where the source is PHREEQC too, the row shows that it is asked rightly, no
  more.
- For how fast cartridges load, membranes foul and resin ages, and for prices, there is nothing published here to hold
  them against.

## How far apart
"""

# ---- numbers, rounded so that one machine prints what another does ----


def fixed(value: float, places: int) -> str:
    """So many decimals, a true minus, never −0."""
    text = f"{value:.{max(places, 0)}f}"
    return text.replace("-", "−") if text.strip("-0.") else text.lstrip("-")


def plain(value: float) -> str:
    """A published number as it was typed; a calculated one to six digits."""
    typed = repr(float(value)).removesuffix(".0")
    text = typed if len(typed.strip("-0.").replace(".", "")) <= 10 else f"{value:.6g}"
    return text.replace("-", "−")


def width(row: dict[str, Any]) -> float:
    """The tolerance in the row's unit."""
    size = float(row["tolerance"])
    return size * abs(float(row["published"])) if row["is_relative"] else size


def share(row: dict[str, Any]) -> float:
    """Error as a share of the tolerance."""
    return abs(float(row["ours"]) - float(row["published"])) / width(row)


def is_closed(row: dict[str, Any]) -> bool:
    """Whether the row asks for the same formula, to all digits."""
    return width(row) < CLOSED * max(abs(float(row["published"])), 1e-3)


def places_of(size: float) -> int:
    """Decimals that show a tenth of this size and less."""
    return 1 - math.floor(math.log10(0.999 * size))


def published(row: dict[str, Any]) -> str:
    """The published number or range."""
    if row["is_range"]:
        low, high = (float(f"{row['published'] + sign * row['tolerance']:.6g}") for sign in (-1, 1))
        return f"{plain(low)} to {plain(high)}"
    return plain(row["published"])


def ours(row: dict[str, Any]) -> str:
    """Ours, to a tenth of the tolerance but six digits at most."""
    value = float(row["ours"])
    most = 6 - 1 - math.floor(math.log10(abs(value))) if value else 6
    return fixed(value, min(places_of(width(row)), most))


def error(row: dict[str, Any]) -> str:
    """Ours less the published value, in the tolerance's own terms and to a tenth of it."""
    if is_closed(row):
        return "none"
    if row["is_range"]:
        return "inside"
    apart = float(row["ours"]) - float(row["published"])
    if row["is_relative"]:
        apart, size, unit = 100.0 * apart / abs(row["published"]), 100.0 * row["tolerance"], " %"
    else:
        size, unit = row["tolerance"], ""
    text = fixed(apart, places_of(size))
    return ("+" if apart > 0 and text.strip("0.") else "") + text + unit


def tolerance(row: dict[str, Any]) -> str:
    """As it was set."""
    if row["is_range"]:
        return "the range"
    size = f"{100.0 * row['tolerance']:.2g} %" if row["is_relative"] else f"{row['tolerance']:.2g}"
    return "±" + size.replace("-", "−")


# ---- the page ----


def quantity(row: dict[str, Any]) -> str:
    """What is compared, in what unit, and whether as a whole answer."""
    named = f"{row['quantity']}, {row['unit']}" if row["unit"] else str(row["quantity"])
    return named + (" (whole answer)" if row["test"] == WHOLE_ANSWERS else "")


def section(source: dict[str, str], rows: Sequence[dict[str, Any]], models: dict[str, str]) -> str:
    """One source: where it is from, what to know, and its table."""
    head = ("Quantity", "At", "Published", "Ours", "Error", "Tolerance", "Standing", "Model")
    tests = sorted({row["test"] for row in rows})
    body = (
        [
            quantity(row), row["at"], published(row), ours(row), error(row), tolerance(row), row["standing"],
            f"[{row['model']}]({models[row['model']]})",
        ]
        for row in rows
    )  # fmt: skip
    tested = "Tested in " + " and ".join(f"[{Path(test).name}](../{test})" for test in tests) + "."
    words = " ".join(part for part in (source["reference"], source["remark"], tested) if part)
    return f"### {source['title']}\n\n{words}\n\n{table(head, body)}"


def summary(rows: Sequence[dict[str, Any]], sources: dict[str, Any]) -> str:
    """How many rows of each standing, and those that come closest to their tolerance."""
    counts = []
    for standing, meaning in STANDINGS.items():
        of_it = [row for row in rows if row["standing"] == standing]
        worst = max((share(row) for row in of_it if not is_closed(row) and not row["is_range"]), default=0.0)
        counts.append([standing, str(len(of_it)), f"{100.0 * worst:.0f} %", meaning])
    counts.append(["**all**", str(len(rows)), "", f"from {len({row['source'] for row in rows})} sources"])
    far = sorted(
        (row for row in rows if not row["is_range"] and not is_closed(row)), key=lambda row: -round(share(row), 3)
    )
    nearest = (
        [
            f"[{sources[row['source']]['title']}](#{anchor(sources[row['source']]['title'])})",
            quantity(row), row["at"], error(row), tolerance(row), f"{100.0 * share(row):.0f} %",
        ]
        for row in far[:FARTHEST]
    )  # fmt: skip
    return "\n\n".join([
        table(("Standing", "Values", "Worst error, of its tolerance", "What it means"), counts),
        f"The {FARTHEST} that use most of their tolerance:",
        table(("Source", "Quantity", "At", "Error", "Tolerance", "Used of it"), nearest),
    ])  # fmt: skip


def page(found: dict[str, Any]) -> str:
    """The whole page from what the tests recorded."""
    sources, rows = found["sources"], found["rows"]
    to = {key: "#" + anchor(source["title"]) for key, source in sources.items()}
    blocks = [HEAD.format(rig=to["sitterley"], forms=to["temperature-forms"]).rstrip("\n"), summary(rows, sources)]
    for topic, title in found["topics"].items():
        blocks.append(f"## {title}")
        for key, source in sources.items():
            of_it = [row for row in rows if row["source"] == key]
            if source["topic"] == topic and of_it:
                blocks.append(section(source, of_it, found["models"]))
    return "\n\n".join(blocks) + "\n"


def measure() -> dict[str, Any]:
    """Run the published tests and return what they recorded; stops with pytest's words if one fails."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "agreement.json"
        tests = [sys.executable, "-m", "pytest", "tests/published", "-q", "-p", "no:cacheprovider", "-p", "no:xdist"]
        path = os.pathsep.join([str(ROOT / "src"), os.environ.get("PYTHONPATH", "")])
        done = subprocess.run(
            [*tests, "--agreement", str(file)], cwd=ROOT, env=os.environ | {"PYTHONPATH": path}, capture_output=True,
            text=True, encoding="utf-8", errors="replace", check=False,
        )  # fmt: skip
        if done.returncode:
            raise SystemExit(f"{done.stdout}{done.stderr}\nThe published tests fail, so the page is not written.")
        found: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
        return found


def differences(there: str, anew: str) -> list[str]:
    """Lines of a diff, or none. A number may be off by one in its last place: machines round a half to either side."""
    old, new = there.splitlines(), anew.splitlines()
    if len(old) == len(new) and all(map(_alike, old, new)):
        return []
    return list(difflib.unified_diff(old, new, PAGE.name, "made anew", lineterm=""))


def _alike(one: str, other: str) -> bool:
    split_one, split_other = NUMBER.split(one), NUMBER.split(other)
    return len(split_one) == len(split_other) and all(map(_near, split_one, split_other))


def _near(one: str, other: str) -> bool:
    if one == other:
        return True
    if not (NUMBER.fullmatch(one) and NUMBER.fullmatch(other)):
        return False
    places = len(one.partition(".")[2])
    a, b = (float(text.replace("−", "-")) for text in (one, other))
    return len(other.partition(".")[2]) == places and abs(a - b) < 1.5 * 10.0**-places


def main(arguments: list[str]) -> int:
    """Write the page, or compare it."""
    anew = page(measure())
    if "--check" not in arguments:
        PAGE.write_text(anew, encoding="utf-8")
        return 0
    lines = differences(PAGE.read_text(encoding="utf-8"), anew)
    sys.stdout.writelines(f"{line}\n" for line in lines)
    return 1 if lines else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
