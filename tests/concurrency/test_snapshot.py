"""Reading many tables as of one moment while somebody else writes."""

from __future__ import annotations

from tests.databases import Database

READS_WHILE_ANOTHER_WRITES = """
import django, threading
django.setup()
from django.db import connection
from inventory.models import Setting
from inventory.selectors.snapshot import one_snapshot

def write():
    Setting.objects.create(key="currency", value="EUR")
    connection.close()

with one_snapshot():
    before = Setting.objects.count()
    writer = threading.Thread(target=write)
    writer.start()
    writer.join(timeout=10)
    assert not writer.is_alive(), "the writer was kept waiting"
    within = Setting.objects.count()
print(before, within, Setting.objects.count())
"""


def test_a_snapshot_does_not_see_what_is_written_meanwhile_nor_keeps_the_writer_waiting(
    database: Database,
) -> None:
    process = database.start(
        "-c", READS_WHILE_ANOTHER_WRITES, DJANGO_SETTINGS_MODULE="config.settings"
    )
    out, err = process.communicate(timeout=120)
    assert process.returncode == 0, err
    assert out.split() == ["0", "0", "1"]
