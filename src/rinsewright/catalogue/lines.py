"""On which line of a TOML text each key stands.

No TOML reader of the standard library tells this for a value that is well formed but wrong. The text must already
have been accepted by :mod:`tomllib`; this walks it again, knowing only where keys and values begin and end.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right

Path = tuple[str | int, ...]

_GAP = re.compile(r"[ \t]*")
_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^,\]}#\r\n]+")
_STRING = re.compile(
    r'"""(?:\\.|[^\\])*?"""(?:"{1,2})?'
    r"|'''.*?'''(?:'{1,2})?"
    r'|"(?:\\.|[^"\\\n])*"'
    r"|'[^'\n]*'",
    re.DOTALL,
)


def key_lines(text: str) -> dict[Path, int]:
    """Line (from 1) of every table, key and list item of a valid TOML text, by path.

    >>> key_lines("[a]\\nb = [1,\\n2]")
    {('a',): 1, ('a', 'b'): 2, ('a', 'b', 0): 2, ('a', 'b', 1): 3}
    """
    scan = _Scan(text)
    scan.document()
    return scan.lines


class _Scan:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[Path, int] = {}
        self._ends = [match.start() for match in re.finditer("\n", text)]
        self._counts: dict[Path, int] = {}  # tables so far in each array of tables

    def document(self) -> None:
        base: Path = ()
        self._skip(_BLANK)
        while self.at < len(self.text):
            if self._looking_at("["):
                base = self._header()
            else:
                self._key_value(base)
            self._skip(_BLANK)

    def _header(self) -> Path:
        """``[table]`` or ``[[array of tables]]``; returns the path that its keys hang on."""
        start = self.at
        many = self.text.startswith("[[", self.at)
        self.at += 2 if many else 1
        keys = self._keys()
        self.at += 2 if many else 1
        path: Path = ()
        for key in keys[:-1]:
            path = self._enter((*path, key))
            self._mark(path, start)
        path = (*path, keys[-1])
        if not many:
            path = self._enter(path)
            self.lines[path] = self._line(start)
            return path
        self._mark(path, start)
        self._counts[path] = self._counts.get(path, 0) + 1
        path = self._enter(path)
        self._mark(path, start)
        return path

    def _enter(self, path: Path) -> Path:
        """A path through an array of tables means the last table in it."""
        return (*path, self._counts[path] - 1) if path in self._counts else path

    def _key_value(self, base: Path) -> None:
        start, path = self.at, base
        for key in self._keys():
            path = (*path, key)
            self._mark(path, start)
        self.at += 1  # the equals sign
        self._skip(_GAP)
        self._value(path)

    def _keys(self) -> list[str]:
        """A key, dotted or not; leaves the place behind it and its blanks."""
        keys = []
        while True:
            self._skip(_GAP)
            keys.append(self._key())
            self._skip(_GAP)
            if not self._looking_at("."):
                return keys
            self.at += 1

    def _key(self) -> str:
        if bare := _BARE_KEY.match(self.text, self.at):
            self.at = bare.end()
            return bare.group()
        quoted = self._skip(_STRING)
        return str(tomllib.loads(f"key = {quoted}")["key"])

    def _value(self, path: Path) -> None:
        if self._looking_at("["):
            self._list(path)
        elif self._looking_at("{"):
            self._inline_table(path)
        elif not self._skip(_STRING):
            self._skip(_SCALAR)

    def _list(self, path: Path) -> None:
        index = 0
        self.at += 1
        self._skip(_BLANK)
        while not self._looking_at("]"):
            self._mark((*path, index), self.at)
            self._value((*path, index))
            index += 1
            self._comma()
        self.at += 1

    def _inline_table(self, path: Path) -> None:
        self.at += 1
        self._skip(_BLANK)
        while not self._looking_at("}"):
            self._key_value(path)
            self._comma()
        self.at += 1

    def _comma(self) -> None:
        self._skip(_BLANK)
        if self._looking_at(","):
            self.at += 1
            self._skip(_BLANK)

    def _looking_at(self, character: str) -> bool:
        return self.text.startswith(character, self.at)

    def _skip(self, pattern: re.Pattern[str]) -> str:
        """Go past what the pattern matches here, if it does; returns it."""
        match = pattern.match(self.text, self.at)
        if match is None:
            return ""
        self.at = match.end()
        return match.group()

    def _mark(self, path: Path, at: int) -> None:
        self.lines.setdefault(path, self._line(at))

    def _line(self, at: int) -> int:
        return bisect_right(self._ends, at - 1) + 1
