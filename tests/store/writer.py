"""A program that writes to a book until it is killed, and says each write only after the book has answered.

``python writer.py WHERE ROUND``: each line it prints is one acknowledged write, ``what count``.
"""

from __future__ import annotations

import sys
from datetime import UTC, datetime

from rinsewright.store.book import Book


def main(where: str, turn: str) -> None:
    """Write without end."""
    book = Book.open(where)
    print("begun", flush=True)
    count = 0
    while True:
        count += 1
        name = f"{turn}-{count}"
        slug = book.add_site(f"n = {count}\n", name, "begun").slug
        _said("site", name)
        book.save(slug, f"n = {count}\n# changed\n", name, "changed", made_from=1)
        _said("version", name)
        run = book.begin_first_run(slug, 10.0, 3.0, None, client_id=f"begun {name}")
        book.keep_reading(run.id, "a", float(count), name, datetime.now(UTC))
        _said("reading", name)
        book.keep_tick(slug, "unpacking", "tube", True, name, datetime.now(UTC))
        _said("tick", name)
        book.issue(slug, "plan", name, name.encode() * 500, name.encode() * 5000, "0", "0")
        _said("document", name)


def _said(what: str, name: str) -> None:
    print(what, name, flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:])
