"""What is done to a lot: held, released, changed in part, taken out, sent on."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from rest_framework import serializers

from inventory.api import base
from inventory.api.codes import CODE
from inventory.api.fields import Amount as Figure
from inventory.api.fields import Day, Words
from inventory.api.rows import HoldRow, LotRow, TransferRow
from inventory.engine.take_outs import Why
from inventory.models import Hold, Lot, Transfer
from inventory.problems import Problem, Refused
from inventory.selectors import seen
from inventory.services import lot_acts
from inventory.services.lots import Change

Body = Mapping[str, Any]


class HowMuch(serializers.Serializer[Any]):
    """Some of a lot at a place, in any unit of its item."""

    location = Words(40, code=f"^{CODE}$")
    qty = Figure()
    unit = Words(20)


class HoldBody(serializers.Serializer[Any]):
    location = Words(40, code=f"^{CODE}$", allow_null=True, help_text="null: everywhere.")
    reason = serializers.ChoiceField(Hold.Reason.choices)
    note = Words(200, required=False)


class HoldArea(serializers.Serializer[Any]):
    reason = serializers.ChoiceField(Hold.Reason.choices)
    note = Words(200, required=False)


class ReleaseBody(serializers.Serializer[Any]):
    location = Words(40, code=f"^{CODE}$", allow_null=True, help_text="As the hold has it.")
    why = Words(200, help_text="Why it may be used again, and who said so.")


class TakeOutBody(HowMuch):
    why = serializers.ChoiceField([why.value for why in Why])


class ChangeBody(HowMuch):
    change = serializers.ChoiceField([change.value for change in Change])
    use_by = Day(required=False, help_text="An earlier day that somebody wants on the label.")


class MoveBody(HowMuch):
    to = Words(40, code=f"^{CODE}$", help_text="Code of the place.")


class HeldRows(serializers.Serializer[Any]):
    holds = HoldRow(many=True, help_text="New ones; what was on hold already is not named.")


class HoldLot(base.Doing):
    """Hold a lot and its parts, at a place or everywhere."""

    operation, tag = "hold_lot", "holds"
    body_class, answer_class = HoldBody, HeldRows

    def done(self, body: Body, strip: str) -> dict[str, list[Hold]]:
        holds = lot_acts.hold_strip(
            self.viewer,
            strip,
            at_place=body["location"] or "",
            reason=body["reason"],
            note_text=body.get("note", ""),
            by=self.user,
            at=self.at,
        )
        return {"holds": holds}


class HoldStorage(base.Doing):
    """Hold all that is kept in a storage area."""

    operation, tag = "hold_area", "holds"
    body_class, answer_class = HoldArea, HeldRows

    def done(self, body: Body, code: str, area: str) -> dict[str, list[Hold]]:
        store = seen.only(seen.areas(self.viewer), location__code=code, code=area)
        holds = lot_acts.hold_store(
            self.viewer,
            store.pk,
            reason=body["reason"],
            note_text=body.get("note", ""),
            by=self.user,
            at=self.at,
        )
        return {"holds": holds}


class ReleaseLot(base.Doing):
    """End the open hold of a lot at a place, or the one that counts everywhere."""

    operation, tag = "release_lot", "holds"
    body_class, answer_class = ReleaseBody, HoldRow

    def done(self, body: Body, strip: str) -> Hold:
        lot = seen.only(seen.lots(self.viewer), strip=strip)
        here = seen.holds(self.viewer).filter(lot=lot, location__code=body["location"])
        hold = here.order_by("closed_at", "pk").filter(closed_at__isnull=True).first()
        if hold is None:
            where = body["location"] or "everywhere"
            message = f"{strip} is not on hold ({where}). Look at its holds again."
            raise Refused(Problem("not_on_hold", message, "location"))
        return lot_acts.release_strip(
            self.viewer, hold.pk, why=body["why"], by=self.user, at=self.at
        )


class _LotAct(base.Doing):
    tag = "lots"
    answer_class: ClassVar[type[serializers.Serializer[Any]]] = LotRow

    def amount(self, body: Body, strip: str) -> lot_acts.Amount:
        return lot_acts.Amount(strip, body["location"], body["qty"], body["unit"])

    def lot(self, strip: str) -> Lot:
        return seen.only(seen.lots(self.viewer), strip=strip)


class TakeOut(_LotAct):
    """Waste, a staff meal, a tasting, a donation; answers the lot as it is then."""

    operation = "take_out"
    body_class = TakeOutBody

    def done(self, body: Body, strip: str) -> Lot:
        wanted = self.amount(body, strip)
        lot_acts.take_out_strip(self.viewer, wanted, why=body["why"], by=self.user, at=self.at)
        return self.lot(strip)


class ChangeLot(_LotAct):
    """Open, thaw, freeze or portion some of a lot; answers the new lot, with its own strip."""

    operation = "change_lot"
    status = 201
    body_class = ChangeBody

    def done(self, body: Body, strip: str) -> Lot:
        part = lot_acts.change_strip(
            self.viewer,
            self.amount(body, strip),
            change=body["change"],
            use_by=body.get("use_by"),
            by=self.user,
            at=self.at,
        )
        return self.lot(part.strip)


class MoveLot(_LotAct):
    """Send some of a lot to another place."""

    operation = "move_lot"
    status = 201
    body_class, answer_class = MoveBody, TransferRow

    def done(self, body: Body, strip: str) -> Transfer:
        wanted = self.amount(body, strip)
        sent = lot_acts.move_strip(self.viewer, wanted, to=body["to"], by=self.user, at=self.at)
        return seen.only(seen.transfers(self.viewer), number=sent.number)
