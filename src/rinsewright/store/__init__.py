"""The book: sites with every earlier version, first runs, ticks and issued documents, in SQLite or PostgreSQL.

:mod:`~rinsewright.store.book` is the way in; nothing else in the package is needed by those who use it.
"""
