from __future__ import annotations

import json

import pytest
from django.core.management import call_command

from inventory.models import OnHand
from purchasing.selectors.invariants import INVARIANTS
from tests import factories as make


def test_a_clean_ledger_ends_well(db: None, capsys: pytest.CaptureFixture[str]) -> None:
    make.lot(5, at=make.location())
    call_command("check_ledger")
    printed = capsys.readouterr()
    assert printed.err == ""
    assert printed.out.count("holds ") == len(INVARIANTS)


def test_a_fault_ends_with_status_1_and_its_rows(
    db: None, capsys: pytest.CaptureFixture[str]
) -> None:
    lot = make.lot(5, at=make.location(code="COM"))
    OnHand.objects.update(qty=7)
    with pytest.raises(SystemExit) as ended:
        call_command("check_ledger")
    assert ended.value.code == 1
    assert capsys.readouterr().err == (
        "Broken: On hand is the sum of movements.\n"
        f"  lot {lot.strip}, location COM, on_hand 7, movements 5\n"
    )


def test_json_is_one_document_with_every_invariant(
    db: None, capsys: pytest.CaptureFixture[str]
) -> None:
    lot = make.lot(5, at=make.location(code="COM"))
    OnHand.objects.update(qty=7)
    with pytest.raises(SystemExit):
        call_command("check_ledger", "--json")
    document = json.loads(capsys.readouterr().out)
    assert document["holds"] is False
    rows = {one["code"]: one["rows"] for one in document["invariants"]}
    assert list(rows) == [invariant.code for invariant in INVARIANTS]
    assert rows.pop("on_hand_is_movements") == [
        {"lot": lot.strip, "location": "COM", "on_hand": "7", "movements": "5"}
    ]
    assert not any(rows.values())
