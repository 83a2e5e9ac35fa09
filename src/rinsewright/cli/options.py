"""Options that several commands share."""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable


def add_site(command: argparse.ArgumentParser) -> None:
    """The site file, the user's parts and --json."""
    command.add_argument("site", metavar="SITE", help="the site file (TOML)")
    add_parts(command)
    add_json(command)


def add_parts(command: argparse.ArgumentParser) -> None:
    """The folder of the user's own parts."""
    command.add_argument(
        "--parts",
        metavar="DIR",
        help="folder of your own parts (else $RINSEWRIGHT_PARTS, else ~/.config/rinsewright/parts)",
    )


def add_json(command: argparse.ArgumentParser) -> None:
    """--json."""
    command.add_argument("--json", action="store_true", help="print one JSON object and nothing else")


def add_temperature(command: argparse.ArgumentParser) -> None:
    """--temperature."""
    command.add_argument(
        "--temperature", metavar="C", type=between(0, 45, "°C"), help="water temperature instead of the file's, in °C"
    )


def add_out(command: argparse.ArgumentParser, holds: str) -> None:
    """--out, the folder that ``holds`` the report, and --units, in which its pages are told."""
    command.add_argument("--out", metavar="DIR", help=f"folder for {holds}")
    command.add_argument(
        "--units",
        metavar="NAMES",
        help="units of the pages and PDFs in --out: us, or some of f, psi and gal with commas (else °C, bar and L)",
    )


def between(low: float, high: float, unit: str) -> Callable[[str], float]:
    """A reader of numbers in a plausible range, for argparse."""

    def read(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not low <= value <= high:
            raise argparse.ArgumentTypeError(f"{text} is not plausible; give {low:g} to {high:g} {unit}")
        return value

    return read


def whole(low: int, high: int, unit: str) -> Callable[[str], int]:
    """A reader of whole numbers in a range, for argparse."""

    def read(text: str) -> int:
        digits = text.removeprefix("-")
        value = int(text) if digits.isascii() and digits.isdigit() and len(digits) < 20 else None
        if value is None or not low <= value <= high:
            raise argparse.ArgumentTypeError(f"{text} is not possible; give {low} to {high} {unit}".rstrip())
        return value

    return read


def add_book(command: argparse.ArgumentParser) -> None:
    """--book, where the book is."""
    command.add_argument(
        "--book",
        metavar="WHERE",
        help="the book: a file, or postgresql://user@server/database (else book.sqlite in your data folder)",
    )
