"""What every operation of the API has in common: signing in, pages, problems, throttles."""

from __future__ import annotations

import pytest
from django.core import signing
from django.core.cache import cache
from django.test import Client
from pytest_django import Settings

from inventory.models import ApiToken, Device, Location, Submission
from inventory.services.tokens import digest_of, retire_token
from inventory.web.devices import COOKIE, SALT
from purchasing.models import UseByLook
from tests import factories as make
from tests.asking import PROBLEM_TYPE, ROOT, STRANGER, Asker, asker

pytestmark = pytest.mark.django_db


@pytest.fixture
def ines() -> Asker:
    return asker("manager")


def test_a_stranger_is_asked_for_a_token() -> None:
    answer = STRANGER.get("locations/")
    assert (answer.status, answer.headers["WWW-Authenticate"]) == (401, "Bearer")
    assert answer.codes == ["not_signed_in"]


@pytest.mark.parametrize("header", ["Bearer made-up", "Bearer", "Basic eDp5", "Token x"])
def test_what_is_no_token_opens_nothing(header: str) -> None:
    response = Client().get(f"{ROOT}locations/", headers={"Authorization": header})
    assert response.status_code == 401
    assert "Make another one on the people page." in response.json()["detail"]


def test_nor_does_a_retired_one(ines: Asker) -> None:
    retire_token(ApiToken.objects.get(), None, make.NOW)
    assert ines.get("locations/").status == 401


def test_the_session_of_the_pages_will_do(ines: Asker) -> None:
    client = Client()
    assert ines.user is not None
    client.force_login(ines.user, "django.contrib.auth.backends.ModelBackend")
    assert client.get(f"{ROOT}locations/").status_code == 200


def test_writing_in_a_session_needs_its_csrf_token(ines: Asker) -> None:
    client = Client(enforce_csrf_checks=True)
    assert ines.user is not None
    client.force_login(ines.user, "django.contrib.auth.backends.ModelBackend")
    path, key = f"{ROOT}use-by/look/", {"Idempotency-Key": "k1"}
    refused = client.post(path, {}, "application/json", headers=key)
    assert (refused.status_code, refused["Content-Type"]) == (403, PROBLEM_TYPE)
    token = "a" * 32
    client.cookies["csrftoken"] = token
    allowed = client.post(path, {}, "application/json", headers={**key, "X-CSRFToken": token})
    assert allowed.status_code == 202


def test_a_shared_tablet_stays_at_its_place(ines: Asker) -> None:
    here, _there = make.location(code="HERE"), make.location(code="THERE")
    Device.objects.create(name="tablet", token_digest=digest_of("secret"), location=here)
    client = Client()
    client.cookies[COOKIE] = signing.dumps("secret", salt=SALT)
    assert ines.user is not None
    client.force_login(ines.user, "django.contrib.auth.backends.ModelBackend")
    rows = client.get(f"{ROOT}locations/").json()["rows"]
    assert [row["code"] for row in rows] == ["HERE"]


def test_somebody_without_any_role_finds_nothing() -> None:
    client = Client()
    client.force_login(make.user(), "django.contrib.auth.backends.ModelBackend")
    assert client.get(f"{ROOT}locations/").status_code == 404


def test_a_problem_is_a_document(ines: Asker) -> None:
    answer = ines.get("locations/NOWHERE/")
    assert answer.body == {
        "type": "about:blank",
        "title": "Not Found",
        "status": 404,
        "detail": "There is nothing here, or it is not for you to see.",
        "problems": [
            {
                "code": "not_there",
                "message": "There is nothing here, or it is not for you to see.",
                "field": "",
                "data": {},
            }
        ],
    }


@pytest.mark.parametrize("path", ["nowhere/", "locations", "locations/a b/", "lots/kalum/", ""])
def test_other_addresses_are_problems_too(path: str, ines: Asker) -> None:
    assert ines.get(path).status == 404
    assert ines.post(path, {}).status == 404


def test_another_method_is_refused(ines: Asker) -> None:
    answer = ines.post("locations/", {})
    assert (answer.status, answer.headers["Allow"]) == (405, "GET, HEAD")


def test_answers_are_json_only(ines: Asker) -> None:
    headers = {"Authorization": f"Bearer {ines.token}", "Accept": "text/html"}
    response = Client().get(f"{ROOT}locations/", headers=headers)
    assert (response.status_code, response["Content-Type"]) == (406, PROBLEM_TYPE)


@pytest.mark.parametrize("debug", [False, True])
def test_a_mistake_of_ours_is_a_problem_without_its_trace(
    ines: Asker,
    debug: bool,
    settings: Settings,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    def breaks(*_args: object) -> None:
        raise RuntimeError("a secret of the house")

    settings.DEBUG = debug
    monkeypatch.setattr("inventory.api.locations.seen.locations", breaks)
    answer = ines.get("locations/")
    assert (answer.status, answer.headers["Content-Type"]) == (500, PROBLEM_TYPE)
    assert (answer.body["status"], answer.codes) == (500, ["our_mistake"])
    assert answer.body["detail"].startswith("Something went wrong here; it is written down")
    assert "secret" not in str(answer.body) and "Traceback" not in str(answer.body)
    assert "GET /api/v1/locations/ could not be answered" in caplog.text
    assert "a secret of the house" in caplog.text


def test_an_act_that_breaks_stores_nothing_and_may_be_sent_again(
    ines: Asker, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It breaks at the very end, when everything else is done."""
    with monkeypatch.context() as broken:
        broken.setattr(Submission, "save", None)
        assert ines.post("use-by/look/", key="k1").status == 500
    assert not Submission.objects.exists() and not UseByLook.objects.exists()
    assert ines.post("use-by/look/", key="k1").status == 202


def test_what_breaks_around_the_operations_is_a_problem_too(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def breaks(*_args: object) -> None:
        raise RuntimeError("a secret of the house")

    monkeypatch.setattr("inventory.web.answers.AnswersMiddleware.__call__", breaks)
    client = Client(raise_request_exception=False)
    answer = client.get(f"{ROOT}locations/")
    assert (answer.status_code, answer["Content-Type"]) == (500, PROBLEM_TYPE)
    assert answer.json()["problems"][0]["code"] == "our_mistake"
    page = client.get("/")
    assert page.status_code == 500 and page["Content-Type"].startswith("text/html")
    assert b"secret" not in page.content


# Pages of a list.


def test_a_list_is_read_page_by_page(ines: Asker) -> None:
    codes = [make.location(code=f"P{number:02}").code for number in range(7)]
    found, cursor = [], ""
    while cursor is not None:
        page = ines.get("locations/", limit=3, cursor=cursor).body
        found += [row["code"] for row in page["rows"]]
        cursor = page["next"]
    assert found == codes


def test_rows_added_meanwhile_neither_repeat_nor_hide_others(ines: Asker) -> None:
    for code in ("B", "D", "F"):
        make.location(code=code)
    first = ines.get("locations/", limit=2).body
    for code in ("A", "E"):
        make.location(code=code)
    Location.objects.filter(code="B").update(name="Renamed")
    second = ines.get("locations/", limit=2, cursor=first["next"]).body
    assert [row["code"] for row in second["rows"]] == ["E", "F"]
    assert second["next"] is None


def test_a_page_is_a_hundred_rows_unless_asked(ines: Asker) -> None:
    for number in range(101):
        make.location(code=f"P{number:03}")
    assert len(ines.get("locations/").rows) == 100
    assert len(ines.get("locations/", limit=500).rows) == 101


@pytest.mark.parametrize("limit", ["0", "501", "-1", "x", "1.5", "9" * 40, "²"])
def test_a_page_has_1_to_500_rows(limit: str, ines: Asker) -> None:
    answer = ines.get("locations/", limit=limit)
    assert (answer.status, answer.body["problems"][0]["field"]) == (400, "limit")
    assert "from 1 to 500" in answer.messages


@pytest.mark.parametrize(
    "cursor", ["x", "%", "AAAA", "eA=", "é", "OTk5OTk5OTk5OTk5OTk5OTk5OTk5OTk5"]
)
def test_a_made_up_cursor_leads_nowhere(cursor: str, ines: Asker) -> None:
    answer = ines.get("events/", cursor=cursor)
    assert (answer.status, answer.codes) == (404, ["cursor"])


@pytest.mark.parametrize("since", ["yesterday", "2026-03-04T07:20:00", "2026-03-04"])
def test_a_moment_without_its_zone_is_refused(since: str, ines: Asker) -> None:
    answer = ines.get("lots/", changed_since=since)
    assert (answer.status, answer.body["problems"][0]["field"]) == (400, "changed_since")


def test_the_document_of_the_api_is_for_people_who_work_here(ines: Asker) -> None:
    assert ines.get("schema/").body["openapi"].startswith("3.")
    assert STRANGER.get("schema/").status == 401


# Throttles.


@pytest.fixture
def nobody_has_asked() -> None:
    cache.clear()


@pytest.mark.usefixtures("nobody_has_asked")
def test_one_person_may_ask_so_often(ines: Asker, settings: Settings) -> None:
    settings.API_RATE = "2/min"
    answers = [ines.get("locations/") for _ in range(3)]
    assert [answer.status for answer in answers] == [200, 200, 429]
    assert 0 < int(answers[2].headers["Retry-After"]) <= 60
    assert asker("owner").get("locations/").status == 200


@pytest.mark.usefixtures("nobody_has_asked")
def test_so_may_an_address_that_has_not_signed_in(settings: Settings) -> None:
    settings.API_RATE_ANONYMOUS = "1/min"
    assert [STRANGER.get("nowhere/").status for _ in range(2)] == [401, 429]
