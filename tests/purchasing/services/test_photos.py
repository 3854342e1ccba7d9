"""Photographs of a receipt are kept with it, cleaned."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.contrib.auth.models import User
from PIL import Image

from inventory.models import Event, Membership
from inventory.problems import NotThere, Refused
from purchasing.models import Receipt, ReceiptPhoto
from purchasing.services.photos import MOST_PHOTOS, add_photos
from tests import factories as make
from tests.inventory.engine.test_pictures import photo
from tests.purchasing.services.dock_scenes import dry, hand, ordered, take_in


@pytest.fixture(autouse=True)
def _media(settings: object, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path  # type: ignore[attr-defined]


@pytest.fixture
def staff(db: None) -> User:
    return make.member(Membership.Role.STAFF)


def test_a_photograph_comes_with_the_delivery(staff: User) -> None:
    receipt = take_in(ordered(dry()), staff, pictures=[photo()])
    kept = ReceiptPhoto.objects.get(receipt=receipt)
    assert Path(kept.picture.path).suffix == ".jpg"
    assert str(kept.picture).startswith("receipts/")
    with Image.open(kept.picture.path) as picture:
        assert not picture.getexif()


def test_a_file_that_is_none_refuses_the_delivery_with_everything_else(staff: User) -> None:
    with pytest.raises(Refused, match="no photograph that can be read"):
        take_in(ordered(dry()), staff, pictures=[b"<html>"])
    assert not Receipt.objects.exists()


def test_one_more_is_added_later(staff: User) -> None:
    receipt = take_in(ordered(dry()), staff)
    add_photos(receipt.pk, [photo()], hand=hand(staff))
    assert ReceiptPhoto.objects.count() == 1
    assert Event.objects.filter(verb="photograph").count() == 1


@pytest.mark.parametrize("pictures", [[], [b"x"], [photo()] * (MOST_PHOTOS + 1)])
def test_nothing_bad_or_too_many_are_refused(staff: User, pictures: list[bytes]) -> None:
    receipt = take_in(ordered(dry()), staff)
    with pytest.raises(Refused):
        add_photos(receipt.pk, pictures, hand=hand(staff))
    assert not ReceiptPhoto.objects.exists()


def test_not_by_a_stranger(staff: User) -> None:
    receipt = take_in(ordered(dry()), staff)
    with pytest.raises(NotThere):
        add_photos(
            receipt.pk,
            [photo()],
            hand=hand(make.member(Membership.Role.STAFF, make.location())),
        )
