"""The OpenAPI document that is kept is the one that the code gives, and says what is true."""

from __future__ import annotations

from pathlib import Path

from django.core.management import call_command

KEPT = Path(__file__).resolve().parents[2] / "config" / "openapi.yaml"
AGAIN = "manage.py spectacular --validate --fail-on-warn --file config/openapi.yaml"


def test_the_kept_document_is_what_the_code_gives(tmp_path: Path) -> None:
    fresh = tmp_path / "openapi.yaml"
    call_command("spectacular", "--validate", "--fail-on-warn", "--file", str(fresh))
    assert KEPT.read_text() == fresh.read_text(), f"write it again: {AGAIN}"
