"""What the book refuses.

::

    InputError
    ├── NotInBook         what was asked for is not there
    ├── ChangedMeanwhile  somebody else saved first; nothing was written
    ├── NumberTaken       another document was issued under this number; nothing was written
    └── BookNotUsable     the book cannot be opened, read or written, or is damaged
"""

from __future__ import annotations

from rinsewright.errors import InputError, Problem


class NotInBook(InputError):
    """The book holds nothing under this name or number."""

    def __init__(self, message: str) -> None:
        super().__init__(Problem(message))


class ChangedMeanwhile(InputError):
    """A site was changed after the editor had read it. ``current`` is the number of the version that stands now."""

    def __init__(self, name: str, made_from: int, current: int) -> None:
        self.current = current
        super().__init__(
            Problem(
                f'"{name}" was changed meanwhile: your change was made from version {made_from} and version {current} '
                "stands now; nothing was written, look at the new version and make the change again"
            )
        )


class NumberTaken(InputError):
    """Another document has come before under the number that this one was made for."""

    def __init__(self, number: str) -> None:
        super().__init__(Problem(f"the number {number} is not free any more; make the document under the next one"))


class BookNotUsable(InputError):
    """The book at ``where`` cannot be opened, read or written."""

    def __init__(self, where: str, message: str) -> None:
        super().__init__(Problem(message, where))
