"""The log: who did what, when; and what was allowed against a caution."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from django.contrib.auth.models import User
from django.db import transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.models import Event
from inventory.services.log import note
from inventory.services.take_outs import Known, use_from_lot
from inventory.services.usable import Permit
from tests import factories as make
from tests.at_the_desk import read, sign_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def manager(client: Client) -> User:
    user = make.manager()
    sign_in(client, user)
    return user


def happened(verb: str, subject: str, by: User | None = None, **more: object) -> Event:
    at = more.pop("at", timezone.now())
    assert isinstance(at, datetime)
    with transaction.atomic():
        return note(verb, subject, by=by, at=at, changes=more)


def test_an_event_is_told_as_a_sentence_with_its_page(client: Client, manager: User) -> None:
    ines = make.user(first_name="Ines")
    happened("change", "item:LEEK", ines, shelf_life_days=["9", "8"], storage=["", "chilled"])
    text = read(client, "log")
    assert "<b>Ines</b>" in text
    assert 'changed <a href="/items/LEEK/">item LEEK</a>' in text
    assert "life as received or made: 9, now 8; kept: chilled" in text


SAID: list[tuple[str, str, dict[str, object], str]] = [
    (
        "take_out",
        "lot:{lot}",
        {"qty": "9071.847400000", "location": "MILL", "why": "staff meal"},
        'took out <a href="/lots/{lot}/">lot {lot}, Leeks</a></td> <td>where: Mill Lane; how much: '
        "20 lb; why: staff meal",
    ),
    (
        "freeze",
        "lot:{lot}",
        {"part": "KEREK", "qty": "453.592370000", "use_by": ""},
        'froze some of <a href="/lots/{lot}/">lot {lot}, Leeks</a></td> <td>as: KEREK; how much: '
        "1 lb</td>",
    ),
    ("join", "person:teo", {"role": "truck_lead"}, "<td>as: truck lead</td>"),
    ("take_up", "order:S1-20260304-1", {"version": 3, "why": ""}, "took up again <a"),
    ("take_up", "device:dock tablet", {}, "shared device dock tablet"),
    ("approve", "order:S1-20260304-1", {"value": "3,915.5"}, "<td>worth: 3,915.50 USD</td>"),
    (
        "answer",
        "order:S1-20260304-1",
        {"says": {"Barley tea": "not_coming"}},
        "<td>the supplier says: Barley tea not coming</td>",
    ),
    (
        "change",
        "order:S1-20260304-1",
        {"lines": {"Leeks": [3, 40]}},
        "<td>lines: Leeks 3, now 40 cases</td>",
    ),
    (
        "receive",
        "order:S1-20260304-1",
        {"receipt": 2, "rejected": {"LEEK": "1"}},
        "receipt: 2; rejected: Leeks 1",
    ),
    ("send", "transfer:T4", {"from": "MILL", "to": "CORNER"}, "from: Mill Lane; to: Corner"),
    ("hold", "lot:{lot}", {"reason": "temperature"}, "why: temperature"),
    (
        "set_pars",
        "par:MILL:LEEK",
        {"weekday 4": ["12 lb fixed 0.95 MILL", ""], "every day": ["", "3 forecast"]},
        ">Leeks at Mill Lane</a></td> <td>every day: 3, the forecast; Friday: 12 lb, the par, "
        "95 %, from Mill Lane, now nothing",
    ),
    ("change_offer", "offer:{offer}", {"price": ["9.5", "10"]}, "price: 9.50 USD, now 10.00 USD"),
    ("change_offer", "offer:{offer}", {"rank": ["1", "2"]}, "changed an offer: Leeks, Marsh"),
    ("asked", "finding:par_tips", {}, "asked for tips for pars"),
]


@pytest.mark.parametrize(("verb", "subject", "changes", "said"), SAID)
def test_what_was_written_down_in_codes_is_told_in_words(
    client: Client,
    manager: User,
    verb: str,
    subject: str,
    changes: dict[str, object],
    said: str,
) -> None:
    mill = make.location(code="MILL", name="Mill Lane")
    make.location(code="CORNER", name="Corner")
    leek = make.item(code="LEEK", name="Leeks", unit="lb")
    known = {
        "lot": make.lot(5000, at=mill, of=leek).strip,
        "offer": str(make.offer(item=leek, supplier=make.supplier(name="Marsh")).pk),
    }
    happened(verb, subject.format(**known), None, **changes)
    assert said.format(**known) in " ".join(read(client, "log").split())


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"lots": ["KALUM", "TOVIR", "MIRAT"]}, "lots: KALUM, TOVIR, MIRAT"),
        ({"took": {"kg": 2}}, "took: kg 2"),
        ({"version": 3, "why": "event"}, "<td>why: event</td>"),
        ({"life": ["9", ""]}, "life: 9, now nothing"),
        ({"x": "y" * 500}, "y" * 157 + "…"),
    ],
    ids=["list", "facts in facts", "no version", "taken away", "long"],
)
def test_any_change_is_told(
    client: Client, manager: User, changes: dict[str, object], said: str
) -> None:
    happened("wish", "thing:1", None, **changes)
    assert said in read(client, "log")


def test_it_is_filtered_by_person_verb_subject_and_day(client: Client, manager: User) -> None:
    ines = make.user(first_name="Ines")
    happened("hold", "lot:KALUM", ines, at=datetime(2026, 3, 2, 23, 30, tzinfo=UTC))
    happened("release", "lot:TOVIR", at=datetime(2026, 3, 3, 0, 30, tzinfo=UTC))
    for asked, found, hidden in (
        ({"person": ines.username}, "KALUM", "TOVIR"),
        ({"verb": "release"}, "TOVIR", "KALUM"),
        ({"subject": "kalum"}, "KALUM", "TOVIR"),
        ({"day": "2026-03-03"}, "TOVIR", "KALUM"),
    ):
        text = read(client, "log", **asked)
        assert found in text
        assert hidden not in text
    assert "Nothing fits. Take a filter away." in read(client, "log", subject="beet")


def test_a_day_is_the_business_day(client: Client, manager: User) -> None:
    make.time_zone("America/New_York")
    happened("hold", "lot:KALUM", at=datetime(2026, 3, 3, 4, 30, tzinfo=UTC))
    assert "KALUM" in read(client, "log", day="2026-03-02")
    assert "KALUM" not in read(client, "log", day="2026-03-03")


@pytest.mark.parametrize("day", ["yesterday", "2026-02-30", "9999-12-31"])
def test_what_is_no_day_is_said_and_kept(client: Client, manager: User, day: str) -> None:
    answer = client.get(reverse("log"), {"day": day, "subject": "beet"})
    text = answer.content.decode()
    assert answer.status_code == 422
    assert f"Day: “{day}” is no day." in text
    assert f'value="{day}"' in text
    assert 'value="beet"' in text


def test_signs_that_nobody_can_see_find_nothing(client: Client, manager: User) -> None:
    for name in ("person", "verb", "subject"):
        assert "Nothing fits." in read(client, "log", **{name: "a\0b"})


def test_older_rows_come_page_by_page_none_twice(client: Client, manager: User) -> None:
    for number in range(230):
        happened("hold", f"lot:L{number}")
    seen: list[str] = []
    address = reverse("log") + "?verb=hold"
    while address:
        page = client.get(address).context
        seen += [row.code for row, _ in page["rows"]]
        address = reverse("log") + page["older"] if page["older"] else ""
    assert seen == [f"L{number}" for number in reversed(range(230))]


def test_the_weeks_overrides_stand_first(client: Client, manager: User) -> None:
    place = make.location(name="Mill Lane")
    now = timezone.now()
    past = now.date() - timedelta(days=1)
    came = now - timedelta(days=3)
    lot = make.lot(2000, at=place, of=make.item(name="Leeks"), when=came, use_by=past)
    permit = Permit(by=manager, reason="smelt and tasted: fine")
    use_from_lot(Known(lot, place, Decimal(1000), now, permit=permit), by=None, at=now)
    text = read(client, "log")
    assert f"allowed 1 kg of Leeks, lot {lot.strip}, at Mill Lane" in text
    assert "“smelt and tasted: fine”" in text


@pytest.mark.parametrize("role", ["buyer", "staff", "prep_lead", "truck_lead"])
def test_others_have_no_log(client: Client, role: str) -> None:
    sign_in(client, make.member(role))
    assert client.get(reverse("log")).status_code == 404


def test_an_event_knows_no_place_so_a_local_manager_reads_none(client: Client) -> None:
    sign_in(client, make.manager(make.location()))
    assert client.get(reverse("log")).status_code == 404


def test_queries_do_not_grow(
    client: Client, manager: User, count_queries: Callable[..., int]
) -> None:
    rows(3)
    few = count_queries(client.get, reverse("log"))
    rows(57)
    assert count_queries(client.get, reverse("log")) == few


def rows(count: int) -> None:
    for number in range(count):
        happened(f"verb{number}", f"lot:{number}", make.user())
