"""The page of verdicts: what is looked at and why, from the rules' docstrings, and the thresholds of scale."""

from __future__ import annotations

import ast
import inspect
import textwrap
from collections.abc import Iterator
from types import ModuleType

from docs.generating.markdown import code, doc, number, page, table
from rinsewright.planning.verdicts import demand, drain, keeping, lines, money, tap
from rinsewright.water.scaling import THRESHOLDS

ORDER = ("fine", "look", "stop")
ABOUT = {"state": "a working state", "year": "the year", "site": "the site"}
MODULES: tuple[ModuleType, ...] = (demand, lines, drain, tap, keeping, money)

INTRO = """
A plan looks at these things and says of each one word: *fine*, *look* (worth a look) or *stop* (mend this first), with
the reason and the next thing to do. A subject that does not concern the plant is not mentioned. The limits stand as the
code has them; where no source is named they are common practice or our own judgement. Beside these rules, what is
written in the reasons (a part's own rating, a demand) may make the word sterner.

What is about *a working state* a plan judges today, or in the coldest or the warmest water where that is worse; the
app judges it where its sliders are.
"""


def verdicts() -> str:
    """The page."""
    sections = [text for module in MODULES for text in _module(module)]
    return page(
        "The verdicts",
        INTRO,
        *sections,
        "## Scale: saturation indices at the membrane",
        "The index of the concentrate at the membrane's surface where the drain leaves. A scale inhibitor raises both "
        "limits by its credit.",
        table(("Mineral", "Look above", "Stop above", "Credit", "Origin"), _thresholds()),
    )


def _module(module: ModuleType) -> Iterator[str]:
    yield f"## {(module.__doc__ or '').strip().rstrip('.')}"
    rows = []
    for rule, about in module.RULES.items():
        tree = ast.parse(textwrap.dedent(inspect.getsource(rule)))
        said = ", ".join(map(code, words(tree)))
        rows.append(("; ".join(subjects(tree)), doc(rule), ABOUT[about], said, "; ".join(limits(tree))))
    yield table(("Subject", "What is judged", "About", "Words", "Limits"), rows)


def subjects(rule: ast.AST) -> list[str]:
    """What a rule's verdicts are called."""
    return list(dict.fromkeys(_text(call.args[0]) for call in _calls(rule, "Verdict")))


def words(rule: ast.AST) -> list[str]:
    """The words that a rule may say, the mildest first."""
    said = {node.value for node in ast.walk(rule) if isinstance(node, ast.Constant)}
    graded = bool(_calls(rule, "graded") or _calls(rule, "verdict"))
    return [word for word in ORDER if graded or word in said]


def limits(rule: ast.AST) -> list[str]:
    """Where a rule draws its lines, as its code says."""
    choices = [node for node in ast.walk(rule) if isinstance(node, ast.IfExp)]
    inner = [node.orelse for node in choices]
    plain = [node for node in choices if not any(isinstance(part, ast.Call) for part in ast.walk(node.test))]
    found = [_choice(node) for node in plain if _word(node.body) and node not in inner]
    for call in _calls(rule, "graded"):
        value, look, stop = map(ast.unparse, call.args)
        found.append(f"`look` if `{value} > {look}`, `stop` if `{value} > {stop}`")
    return list(dict.fromkeys(found))


def _choice(node: ast.expr) -> str:
    """A word, or a chain of words with their conditions."""
    if not isinstance(node, ast.IfExp):
        return f"else {code(_word(node))}"
    return f"{code(_word(node.body))} if `{ast.unparse(node.test)}`, {_choice(node.orelse)}"


def _word(node: ast.expr) -> str:
    return str(node.value) if isinstance(node, ast.Constant) and node.value in ORDER else ""


def _calls(rule: ast.AST, name: str) -> list[ast.Call]:
    calls = [node for node in ast.walk(rule) if isinstance(node, ast.Call)]
    return [call for call in calls if isinstance(call.func, ast.Name) and call.func.id == name]


def _text(node: ast.expr) -> str:
    """A text, with an ellipsis for what it is filled with."""
    if isinstance(node, ast.JoinedStr):
        return "".join(str(part.value) if isinstance(part, ast.Constant) else "…" for part in node.values)
    return str(node.value) if isinstance(node, ast.Constant) else ""


def _thresholds() -> Iterator[tuple[str, ...]]:
    for mineral, limit in THRESHOLDS.items():
        origins = dict.fromkeys(f"{each.reference} ({each.standing})" for each in (limit.look, limit.stop))
        values = (limit.look.value, limit.stop.value, limit.inhibitor_credit.value)
        yield mineral, *map(number, values), "; ".join(origins)
