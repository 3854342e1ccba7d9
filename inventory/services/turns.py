"""Acts that must not run side by side."""

from __future__ import annotations

from hashlib import blake2b

from django.db import connection

from inventory.services.ledger import demand_transaction


def one_at_a_time(act: str) -> None:
    """Wait until nobody else does ``act``, until the end of this transaction.

    SQLite admits one writer anyway (transactions open IMMEDIATE); on PostgreSQL it is an
    advisory lock.
    """
    demand_transaction()
    if connection.vendor != "postgresql":
        return
    key = int.from_bytes(blake2b(act.encode(), digest_size=8).digest(), "big", signed=True)
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [key])
