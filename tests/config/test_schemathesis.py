"""Made-up requests of every kind, in each role: no server error, no answer that the OpenAPI
document does not tell."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
import schemathesis
from django.core.signals import request_finished, request_started
from django.db import close_old_connections, transaction
from drf_spectacular.generators import SchemaGenerator
from hypothesis import HealthCheck, Phase, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from schemathesis import Case, GenerationMode
from schemathesis.config import SchemathesisConfig
from schemathesis.core.result import Ok
from schemathesis.specs.openapi.checks import ignored_auth

from config.wsgi import application
from inventory.models import Membership
from tests.asking import Asker, asker
from tests.config import small_business

pytestmark = pytest.mark.django_db

EXAMPLES = 2
# Of the requests that the document allows; the rest is made up whole.
MOSTLY = 0.7
# Refused by a rule is an answer to what the document allows; 428 to a header left out.
CONFIG = {
    "checks": {
        "positive_data_acceptance": {
            "expected-statuses": ["2xx", "401", "403", "404", "409", "422", "429"]
        },
        "missing_required_header": {"expected-statuses": ["400", "401", "428"]},
    },
}


@pytest.fixture
def _one_connection() -> Iterator[None]:
    """Requests through WSGI end with their connection closed, which is the test's own here."""
    signals = (request_started, request_finished)
    for signal in signals:
        signal.disconnect(close_old_connections)
    yield
    for signal in signals:
        signal.connect(close_old_connections)


@pytest.fixture(scope="module")
def operations() -> list[Any]:
    document = SchemaGenerator().get_schema(request=None, public=True)  # type: ignore[no-untyped-call]
    schema = schemathesis.openapi.from_dict(document, config=SchemathesisConfig.from_dict(CONFIG))
    schema.app = application
    return [result.ok() for result in schema.get_all_operations() if isinstance(result, Ok)]


@pytest.mark.usefixtures("_one_connection")
def test_no_answer_is_a_surprise(operations: list[Any]) -> None:
    known = small_business.built()
    people = [asker(role, sees_cost=role == "owner") for role in Membership.Role.values]
    surprises: list[BaseException] = []
    for operation in operations:
        for mode in (GenerationMode.POSITIVE, GenerationMode.NEGATIVE):
            surprises += asked(operation, mode, people, known)
    if surprises:
        raise BaseExceptionGroup("surprises", surprises)


def asked(
    operation: Any, mode: GenerationMode, people: list[Asker], known: dict[str, list[str]]
) -> list[BaseException]:
    """The same made-up requests by everybody, most of them about things that are there."""
    made_up = operation.as_strategy(generation_mode=mode)

    @given(case=made_up, real=st.randoms(use_true_random=False))
    @hypothesis_settings(
        max_examples=EXAMPLES,
        database=None,
        derandomize=True,
        suppress_health_check=list(HealthCheck),
        phases=[Phase.generate],
    )
    def requests(case: Case[Any], real: Any) -> None:
        asking = people
        if mode is GenerationMode.NEGATIVE:
            asking = people[real.randrange(2) :: 2]  # half of them: few get past the form
        elif real.random() < MOSTLY:
            about_what_is_there(case, known, real)
        for who in asking:
            with taken_back():
                case.call_and_validate(
                    headers={
                        "Authorization": f"Bearer {who.token}",
                        "Accept-Encoding": "identity",
                    },
                    excluded_checks=[] if who is asking[0] else [ignored_auth],
                )

    try:
        requests()
    except (Exception, BaseExceptionGroup) as surprise:
        return [surprise]
    return []


def about_what_is_there(case: Case[Any], known: dict[str, list[str]], real: Any) -> None:
    case.query.pop("cursor", None)
    path = case.path_parameters
    path.update({name: real.choice(known[name]) for name in path if name in known})
    replace(case.body, known, real)


def replace(body: Any, known: dict[str, list[str]], real: Any) -> None:
    """Codes in a body, at any depth; whom a letter goes to is no place."""
    if isinstance(body, list):
        for below in body:
            replace(below, known, real)
    elif isinstance(body, dict):
        for name, value in body.items():
            if name in known and isinstance(value, str) and "@" not in value:
                body[name] = real.choice(known[name])
            else:
                replace(value, known, real)


@contextmanager
def taken_back() -> Iterator[None]:
    """Whatever one request stored is gone before the next one."""
    example = transaction.atomic()
    example._from_testcase = True  # type: ignore[attr-defined]
    with example:
        yield
        transaction.set_rollback(True)
