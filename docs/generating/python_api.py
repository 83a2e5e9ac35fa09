"""The reference of the Python names, from their docstrings."""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from dataclasses import fields
from functools import cached_property
from pathlib import Path
from typing import Any

import rinsewright
from docs.generating.markdown import code, doc, page, table
from docs.generating.names import COLUMNS
from docs.generating.nomenclature import ending_of
from rinsewright.api import Element, Report, Site, SolveReport
from rinsewright.errors import InputError, NoWorkingState, Problem
from rinsewright.planning.plan import Plan
from rinsewright.solve.result import Batch

DEMO = Path(__file__).parents[2] / "examples" / "tern-quay.toml"
PUBLIC: tuple[type, ...] = (Site, Element, Report, SolveReport, Plan, Batch, InputError, NoWorkingState, Problem)

INTRO = """
```python
from rinsewright import Site

site = Site.load("examples/tern-quay.toml")
print(site.solve(temperature_c=5).text())
site.plan().answer()["resin"]["days_to_limit"]
site.solve_many(temperature_c=[5, 12, 19]).columns()["product_l_min"]
```

What stands below is public; everything else may move. Numbers of these names carry their unit; inside the package
everything is in SI (see [the nomenclature](../nomenclature.md)).
"""


def python_api() -> str:
    """The page."""
    names = ", ".join(code(name) for name in rinsewright.__all__)
    sections = [text for kind in PUBLIC for text in _class(kind)]
    return page("Python", INTRO, f"`from rinsewright import …` offers {names}.", *sections)


def _class(kind: type) -> Iterator[str]:
    yield f"## {kind.__name__}"
    yield doc(kind)
    base = next((other for other in kind.__mro__[1:] if other in PUBLIC), None)
    if base is not None:
        yield f"With all that {code(base.__name__)} has."
    if kind is Problem:
        shown = ", ".join(code(f"{field.name}: {field.type}") for field in fields(Problem))
        yield f"Fields: {shown}."
    own = [(name, member) for name, member in vars(kind).items() if not name.startswith("_") or name == "__getitem__"]
    for name, member in own:
        if text := _member(kind, name, member):
            yield text
        if member is Batch.columns:
            yield _columns()


def _member(kind: type, name: str, member: Any) -> str:
    if isinstance(member, classmethod):
        called = f"{kind.__name__}.{name}"
        return f"### {called}\n\n{signature(called, member.__func__)}\n\n{doc(member.__func__)}"
    if isinstance(member, property | cached_property):
        function = member.fget if isinstance(member, property) else member.func
        assert function is not None
        returns = inspect.signature(function).return_annotation
        return f"### {kind.__name__}.{name}\n\n```python\n{name} -> {returns}\n```\n\n{doc(function)}"
    if inspect.isfunction(member):
        shown = f"{kind.__name__.lower()}[key]" if name == "__getitem__" else f"{kind.__name__.lower()}.{name}"
        title = f"{kind.__name__}[…]" if name == "__getitem__" else f"{kind.__name__}.{name}"
        return f"### {title}\n\n{signature(shown, member)}\n\n{doc(member)}"
    return ""


def signature(name: str, function: Any) -> str:
    """The call with its types, without ``self``."""
    found = inspect.signature(function)
    parts = []
    for parameter in list(found.parameters.values())[1:]:
        text = f"{parameter.name}: {parameter.annotation}"
        parts.append(text if parameter.default is parameter.empty else f"{text} = {parameter.default!r}")
    call = name if name.endswith("[key]") else f"{name}({', '.join(parts)})"
    return f"```python\n{call} -> {found.return_annotation}\n```"


def _columns() -> str:
    found = Site.load(DEMO).solve_many().columns()
    if set(found) != set(COLUMNS):
        raise AssertionError(f"columns without a word on them: {sorted(set(found) ^ set(COLUMNS))}")
    rows = [(code(name), COLUMNS[name], ending_of(name).unit) for name in found]
    return "Columns:\n\n" + table(("Column", "Quantity", "Unit"), rows)
