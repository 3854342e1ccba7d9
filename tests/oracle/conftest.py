from __future__ import annotations

from pathlib import Path

import pytest

from tests.oracle.compare import REPOSITORY, empty_database

COMMAND = REPOSITORY / "purchasing" / "management" / "commands" / "reorder.py"


@pytest.fixture(scope="session")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A migrated database without a row."""
    if not COMMAND.exists():
        pytest.skip("the reorder command is not built yet")
    return empty_database(tmp_path_factory.mktemp("empty"))
