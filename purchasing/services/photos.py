"""Photographs of what came, kept on disk beside the database."""

from __future__ import annotations

import uuid
from collections.abc import Sequence

from django.core.files.base import ContentFile

from inventory.engine.pictures import clean_picture
from inventory.problems import NotThere, Problem, Refused
from inventory.roles import Act
from inventory.services.acts import one_act
from inventory.services.ledger import demand_transaction
from inventory.services.log import note
from purchasing.models import Receipt, ReceiptPhoto
from purchasing.services.order_hand import Hand

MOST_PHOTOS = 12


@one_act
def add_photos(receipt_id: int, pictures: Sequence[bytes], *, hand: Hand) -> list[ReceiptPhoto]:
    """Later photographs of a receipt. Refused if one is no picture or too big."""
    receipt = Receipt.objects.filter(pk=receipt_id).first()
    if receipt is None or not hand.viewer.may(Act.RECEIVE, receipt.location_id):
        raise NotThere
    if not pictures:
        raise Refused(Problem("no_photo", "Choose a photograph first.", "photo"))
    cleaned, problems = clean_pictures(pictures)
    if problems:
        raise Refused(problems)
    kept = keep_photos(receipt, cleaned, hand=hand)
    changes = {"photographs": len(kept)}
    note("photograph", receipt.reference, by=hand.by, at=hand.at, changes=changes)
    return kept


def clean_pictures(pictures: Sequence[bytes]) -> tuple[list[bytes], list[Problem]]:
    """Pictures written anew, and what is wrong with those that could not be."""
    cleaned: list[bytes] = []
    problems: list[Problem] = []
    for data in pictures:
        try:
            cleaned.append(clean_picture(data))
        except Refused as refused:
            problems += refused.problems
    return cleaned, problems


def keep_photos(receipt: Receipt, cleaned: Sequence[bytes], *, hand: Hand) -> list[ReceiptPhoto]:
    """Store pictures that ``clean_picture`` has written; a step of a larger act. A file whose
    act fails after it was written stays on disk without a row and is shown to nobody."""
    demand_transaction()
    there = ReceiptPhoto.objects.filter(receipt=receipt).count()
    if there + len(cleaned) > MOST_PHOTOS:
        raise Refused(
            Problem("too_many_photos", f"At most {MOST_PHOTOS} photographs a receipt.", "photo")
        )
    kept = []
    for data in cleaned:
        photo = ReceiptPhoto(receipt=receipt, added_at=hand.at, by=hand.by)
        photo.picture.save(f"{uuid.uuid4().hex}.jpg", ContentFile(data), save=True)
        kept.append(photo)
    return kept
