from __future__ import annotations

from pathlib import Path

import pytest

from tests.oracle.compare import empty_database


@pytest.fixture(scope="session")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A migrated database without a row."""
    return empty_database(tmp_path_factory.mktemp("empty"))
