"""Reading many tables as of one moment."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connection, transaction


@contextmanager
def one_snapshot() -> Iterator[None]:
    """What is read inside is the state of one moment, whoever writes meanwhile; nobody is kept
    from writing. Inside a transaction that is open already nothing changes.

    On SQLite ``atomic`` would take the write lock, so a plain read transaction is opened; with
    a write-ahead log it sees the state at its first read.
    """
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("BEGIN DEFERRED")
            try:
                yield
            finally:
                cursor.execute("ROLLBACK")
    else:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield
