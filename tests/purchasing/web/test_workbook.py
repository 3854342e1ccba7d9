"""The workbook's page: looked at, loaded, taken out; and files that nobody should send."""

from __future__ import annotations

from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from django.contrib.auth.models import User
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client, override_settings
from django.urls import reverse

from inventory.models import Event, Item
from purchasing.models import DueMoment
from tests import factories as make
from tests.at_the_desk import read, sign_in, text_of, told

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def uploads(tmp_path: Path) -> Iterator[Path]:
    with override_settings(MEDIA_ROOT=tmp_path):
        yield tmp_path / "workbooks"


@pytest.fixture
def manager(client: Client) -> User:
    user = make.manager()
    sign_in(client, user)
    return user


def book(**sheets: list[list[object]]) -> bytes:
    file = openpyxl.Workbook()
    assert file.active is not None
    file.remove(file.active)
    for name, rows in sheets.items():
        sheet = file.create_sheet(name)
        for row in rows:
            sheet.append(row)
    out = BytesIO()
    file.save(out)
    return out.getvalue()


HEAD: list[object] = ["code", "name", "kind", "unit"]
LEEKS: list[object] = ["LEEK", "Leeks", "ingredient", "kg"]


def bring(client: Client, content: bytes, name: str = "kitchen.xlsx") -> Any:
    return client.post(reverse("workbook"), {"file": SimpleUploadedFile(name, content)})


def test_a_workbook_is_looked_at_and_then_loaded(
    client: Client, manager: User, uploads: Path
) -> None:
    answer = bring(client, book(items=[HEAD, LEEKS]))
    text = text_of(answer)
    assert "kitchen.xlsx can be loaded" in text
    assert '<th scope="row">items</th><td class="figure loud">1</td>' in text
    assert not Item.objects.exists()
    client.post(reverse("workbook_load"))
    assert Item.objects.get().code == "LEEK"
    assert "kitchen.xlsx is loaded: 1 rows new or changed." in read(client, "workbook")
    event = Event.objects.get(verb="load")
    assert (event.subject, event.by) == ("workbook:kitchen.xlsx", manager)
    assert event.changes == {"items": "1 new, 0 changed, 0 as before"}
    assert DueMoment.objects.filter(kind="change").exists()
    assert list(uploads.iterdir()) == []


def test_what_is_there_already_is_said(client: Client, manager: User) -> None:
    for _ in range(2):
        answer = bring(client, book(items=[HEAD, LEEKS]))
        client.post(reverse("workbook_load"))
    assert "loading it would change nothing" in text_of(answer)


def test_every_problem_is_said_with_sheet_and_row(
    client: Client, manager: User, uploads: Path
) -> None:
    bad = book(
        items=[HEAD, ["LEEK", "", "ingredient", "kg"], ["two words", "Beets", "root", "kg"]],
        mystery=[["a"]],
    )
    answer = bring(client, bad)
    assert answer.status_code == 422
    assert [message.split(":")[0] for message in told(answer)] == [
        "items!2 name",
        "items!3 code",
        "items!3 kind",
        "mystery!1",
    ]
    assert not Item.objects.exists()
    assert list(uploads.iterdir()) == []


def test_warnings_do_not_stop_a_load(client: Client, manager: User) -> None:
    head = [*HEAD, "shelf_life_days", "tcs", "ready_to_eat"]
    row = ["HUM", "Hummus", "prep", "kg", 7, "yes", "yes"]
    text = text_of(bring(client, book(items=[head, row])))
    assert "Worth a second look" in text
    assert "7 days after is day 8" in text
    assert "load it" in text


def test_loading_without_a_file_asks_for_it_again(client: Client, manager: User) -> None:
    answer = client.post(reverse("workbook_load"))
    assert answer.status_code == 422
    assert told(answer) == ["That file has been loaded or thrown away. Choose it again."]


def test_nobody_loads_what_somebody_else_looked_at(client: Client, manager: User) -> None:
    bring(client, book(items=[HEAD, LEEKS]))
    other = Client()
    sign_in(other, make.manager())
    assert other.post(reverse("workbook_load")).status_code == 422
    assert not Item.objects.exists()


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("kitchen.csv", b"code,name", "kitchen.csv is no .xlsx file"),
        ("kitchen.xlsx", b"", "no file"),
        ("kitchen.xlsx", b"<html>", "kitchen.xlsx"),
        ("kitchen.xlsx", b"PK\x03\x04" + b"\0" * 200, "kitchen.xlsx"),
        ("../../etc/passwd.xlsx", b"no workbook", "passwd.xlsx"),
    ],
    ids=["another kind", "empty", "a page", "a broken package", "a path for a name"],
)
def test_other_files_are_answered_with_a_sentence(
    client: Client, manager: User, uploads: Path, name: str, content: bytes, words: str
) -> None:
    answer = bring(client, content, name)
    assert answer.status_code == 422
    assert words in " ".join(told(answer)) or words == "no file"
    assert not uploads.exists() or list(uploads.iterdir()) == []


def test_no_file_at_all(client: Client, manager: User) -> None:
    answer = client.post(reverse("workbook"))
    assert told(answer) == ["Choose a workbook first: an .xlsx file."]


def test_a_file_that_is_too_large(
    client: Client, manager: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("purchasing.web.workbook.MOST_PACKED", 1024 * 1024)
    answer = bring(client, b"x" * (3 * 1024 * 1024))
    assert told(answer) == ["kitchen.xlsx is 3 MB large; at most 1 MB fit. Load it in parts."]


@pytest.mark.parametrize("name", ["workbook_out", "workbook_empty"])
def test_workbooks_come_out(client: Client, manager: User, name: str) -> None:
    make.item(code="LEEK")
    answer: Any = client.get(reverse(name))
    assert answer.headers["Content-Disposition"].startswith("attachment")
    content = b"".join(answer.streaming_content)
    assert "items" in openpyxl.load_workbook(BytesIO(content), read_only=True).sheetnames


def test_what_came_out_goes_in_again_and_changes_nothing(client: Client, manager: User) -> None:
    make.lot(500, at=make.location(), of=make.item())
    answer: Any = client.get(reverse("workbook_out"))
    text = text_of(bring(client, b"".join(answer.streaming_content)))
    assert "can be loaded" in text


@pytest.mark.parametrize("role", ["buyer", "staff", "prep_lead", "truck_lead"])
def test_others_have_no_workbook(client: Client, role: str) -> None:
    sign_in(client, make.member(role))
    for name in ("workbook", "workbook_out", "workbook_empty"):
        assert client.get(reverse(name)).status_code == 404


def test_a_workbook_holds_every_place(client: Client) -> None:
    sign_in(client, make.manager(make.location()))
    assert client.get(reverse("workbook")).status_code == 404
    assert client.get(reverse("workbook_out")).status_code == 404
    assert bring(client, book(items=[HEAD, LEEKS])).status_code == 404
