"""Checking what comes in: what one of the two databases could not keep, neither gets."""

from __future__ import annotations

import math
from datetime import UTC, datetime

from rinsewright.errors import InputError, Problem

SHORT = {"client_id": 80, "setting": 80}  # texts of a limited length, in characters
LARGEST = 2**31 - 1  # whole number that both databases can be asked for


def check_texts(**texts: str) -> None:
    """Refuse texts that cannot be kept, by their names; raises :class:`~rinsewright.errors.InputError`."""
    for key, text in texts.items():
        if not keepable(text):
            raise InputError(Problem("this text holds a character that cannot be kept; write it without", key=key))
        if len(text) > SHORT.get(key, len(text)):
            raise InputError(Problem(f"this is longer than {SHORT[key]} characters; give a shorter one", key=key))


def keepable(text: str) -> bool:
    """Whether both databases can keep a text, and be asked for it: no NUL, no half of a character."""
    try:
        return b"\0" not in text.encode()
    except UnicodeEncodeError:
        return False


def number(key: str, value: float | None) -> float | None:
    """A finite number, or None; raises :class:`~rinsewright.errors.InputError` for any other."""
    if value is None:
        return None
    if not math.isfinite(value):
        raise InputError(Problem(f"{value} is not a number that was read; give a number", key=key))
    return float(value) + 0.0  # no minus zero, which SQLite does not keep


def moment(key: str, time: datetime) -> datetime:
    """A time in UTC; raises :class:`~rinsewright.errors.InputError` for one without a zone."""
    if time.tzinfo is None or time.utcoffset() is None:
        raise InputError(Problem(f"the time {time.isoformat()} has no zone; give one, as {time.isoformat()}Z", key=key))
    try:
        return time.astimezone(UTC)
    except OverflowError:
        raise InputError(
            Problem(f"{time.isoformat()} is not a time that can be kept; give one in UTC", key=key)
        ) from None
