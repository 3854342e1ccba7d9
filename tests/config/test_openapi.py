"""The OpenAPI document that is kept is the one that the code gives, and says what is true."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client
from drf_spectacular.generators import SchemaGenerator

from tests.asking import PROBLEM_TYPE, Asker, asker

KEPT = Path(__file__).resolve().parents[2] / "config" / "openapi.yaml"
AGAIN = "manage.py spectacular --validate --fail-on-warn --file config/openapi.yaml"


def test_the_kept_document_is_what_the_code_gives(tmp_path: Path) -> None:
    fresh = tmp_path / "openapi.yaml"
    call_command("spectacular", "--validate", "--fail-on-warn", "--file", str(fresh))
    assert KEPT.read_text() == fresh.read_text(), f"write it again: {AGAIN}"


def operations() -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Address with plausible names, method, and what the document says of it."""
    document = SchemaGenerator().get_schema(request=None, public=True)  # type: ignore[no-untyped-call]
    for path, methods in document["paths"].items():
        address = re.sub(r"{(strip|run|receipt|[a-z]+)}", _plausible, path)
        for method, said in methods.items():
            yield address, method, said


def _plausible(found: re.Match[str]) -> str:
    return {"strip": "KALUM", "run": "1", "receipt": "1"}.get(found[1], "X1")


@pytest.fixture
def owner(db: None) -> Asker:
    return asker("owner")


def test_every_act_wants_a_key_and_every_change_of_an_order_its_version(owner: Asker) -> None:
    for address, method, said in operations():
        if method != "post":
            continue
        named = {one["name"] for one in said["parameters"] if one["in"] == "header"}
        assert "Idempotency-Key" in named, address
        for header in named:
            others = {"Idempotency-Key": "k", "If-Match": '"1"'}
            del others[header]
            answer = _ask(owner, "post", address, others)
            assert (answer.status_code, answer["Content-Type"]) == (428, PROBLEM_TYPE), address
            assert header in answer.json()["detail"]


@pytest.mark.parametrize("method", ["put", "patch", "delete", "options", "trace"])
def test_no_address_takes_another_method(method: str, owner: Asker) -> None:
    for address in {address for address, _, _ in operations()}:
        answer = _ask(owner, method, address, {})
        assert (answer.status_code, answer["Content-Type"]) == (405, PROBLEM_TYPE), address


def test_strangers_are_turned_away_everywhere(db: None) -> None:
    for address, method, _ in operations():
        answer = getattr(Client(), method)(address)
        assert answer.status_code in (401, 429), address


def test_errors_are_told_the_same_everywhere() -> None:
    for address, method, said in operations():
        told = {int(status) for status in said["responses"]}
        always = {400, 401, 404, 405, 406, 429}
        writing = {403, 409, 415, 422, 428} if method == "post" else set()
        assert always | writing <= told, address
        assert said["security"] == [{"token": []}, {"session": []}], address


def _ask(who: Asker, method: str, address: str, headers: dict[str, str]) -> Any:
    sent = {"Authorization": f"Bearer {who.token}", **headers}
    return Client().generic(method.upper(), address, "{}", "application/json", headers=sent)
