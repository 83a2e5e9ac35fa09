"""The reference of the command line, from its grammar."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from typing import Any

from docs.generating.markdown import code, doc, link, page, table
from rinsewright.cli import COMMANDS, parser
from rinsewright.errors import InputError, NoWorkingState
from rinsewright.planning.answers import ANSWERS
from rinsewright.site.reading import TABLES_OF

ENVIRONMENT = {
    "RINSEWRIGHT_PARTS": "Folder of your own parts, where `--parts` is not given.",
    "RINSEWRIGHT_DEBUG": "`1`: a defect of ours shows where in the code it happened.",
}
"""The variables that the program reads, and what they do."""


def command_line() -> str:
    """The page."""
    top = parser()
    sections = [text for name in COMMANDS for text in _command(name, commands(top)[name], _purpose(top, name))]
    statuses = [
        ("0", "Answered."),
        ("1", "A defect of ours."),
        (str(InputError.exit_status), doc(InputError)),
        (str(NoWorkingState.exit_status), doc(NoWorkingState)),
    ]
    return page(
        "The command line",
        f"{top.description} Answers go to standard output, messages and progress to standard error. Options are not "
        "abbreviated.",
        _usage("rinsewright", [action for action in top._actions if action.option_strings], "COMMAND …"),
        _options(top._actions),
        *sections,
        "## Exit status",
        table(("Status", "Meaning"), statuses),
        "## Environment",
        table(("Variable", "Meaning"), [(code(name), words) for name, words in ENVIRONMENT.items()]),
    )


def commands(top: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    """The parsers of the commands, by name."""
    return dict(_subparsers(top).choices)


def _subparsers(top: argparse.ArgumentParser) -> Any:
    return next(action for action in top._actions if isinstance(action, argparse._SubParsersAction))


def _purpose(top: argparse.ArgumentParser, name: str) -> str:
    return next(str(choice.help) for choice in _subparsers(top)._choices_actions if choice.dest == name)


def _command(name: str, command: argparse.ArgumentParser, purpose: str) -> Iterator[str]:
    yield f"## {name}"
    yield purpose[:1].upper() + purpose[1:] + "."
    yield _usage(f"rinsewright {name}", command._actions)
    yield _options(command._actions)
    if name in TABLES_OF:
        tables = ", ".join(link(code(f"[{each}]"), f"[{each}]", "site-file.md") for each in TABLES_OF[name])
        yield f"Needs of the site file: {tables}."
    if name in ANSWERS:
        yield f"Its JSON: {link('answers', name, 'answers.md')}."


def _usage(program: str, actions: list[argparse.Action], rest: str = "") -> str:
    words = [program]
    for action in actions:
        if isinstance(action, argparse._HelpAction | argparse._SubParsersAction):
            continue
        word = " ".join(filter(None, [*action.option_strings[-1:], metavar(action)]))
        optional = not action.required if action.option_strings else action.nargs == "?"
        words.append(f"[{word}]" if optional else word)
    return f"```\n{' '.join([*words, *([rest] if rest else [])])}\n```"


def metavar(action: argparse.Action) -> str:
    """The word that stands for an argument's value; empty for a switch."""
    if action.nargs == 0:
        return ""
    return str(action.metavar or action.dest.upper())


def _options(actions: list[argparse.Action]) -> str:
    rows = []
    for action in actions:
        if isinstance(action, argparse._SubParsersAction):
            continue
        name = ", ".join(code(" ".join(filter(None, [option, metavar(action)]))) for option in action.option_strings)
        help_text = str(action.help or "").rstrip(".")
        note = "; ".join(filter(None, [help_text[:1].upper() + help_text[1:], _limits(action)]))
        rows.append((name or code(metavar(action)), note + "."))
    return table(("Argument", "Meaning"), rows)


def _limits(action: argparse.Action) -> str:
    """What the reader of a number takes, as it says itself when it refuses."""
    if not callable(action.type):
        return ""
    try:
        action.type("?")
    except argparse.ArgumentTypeError as refusal:
        return str(refusal).partition("give ")[2]
    except ValueError:
        pass
    return ""
