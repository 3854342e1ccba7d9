"""What several pages are tried with."""

from __future__ import annotations

import pytest
from django.test import Client
from django.utils import timezone

from inventory.exchange.book import TextSheet
from inventory.models import Item, Location
from purchasing.exchange.workbook import load_sheets
from tests import factories as make
from tests.purchasing.services.replay_kitchen import sheets
from tests.purchasing.web.shelf import signed_in


@pytest.fixture
def place() -> Location:
    return make.location(code="COM", name="Mill Lane")


@pytest.fixture
def leeks() -> Item:
    return make.item(name="Leeks", may_freeze=True)


@pytest.fixture
def kitchen() -> None:
    load_sheets(
        [TextSheet(name, rows) for name, rows in sheets().items()], by=None, at=timezone.now()
    )


@pytest.fixture
def owner() -> Client:
    person = make.member("owner", sees_cost=True)
    person.username = "ottilie"
    person.save()
    return signed_in(person)
