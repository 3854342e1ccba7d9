"""Orders approved, taken back, skipped, sent, answered, given up."""

from __future__ import annotations

from typing import Any, ClassVar

from rest_framework import serializers

from inventory.api.codes import CODE, NUMBER
from inventory.api.fields import Day, Nothing, Whole, Words
from purchasing.api.order_base import Body, OrderAct, Why
from purchasing.api.order_lines import LineName, LinesAct
from purchasing.models import Answer, Sending
from purchasing.services import answers, order_lines, orders, sending
from purchasing.services.order_lines import MOST_CASES


class Approve(OrderAct):
    """From now on it is on order."""

    operation = "order_approve"
    body_class = Nothing

    def act_on(self, number: str, body: Body) -> None:
        orders.approve(number, hand=self.hand)


class SeenOrder(serializers.Serializer[Any]):
    number = Words(60, code=f"^{NUMBER}$")
    version = Whole(most=999_999_999, least=1)


class ApproveUnflaggedBody(serializers.Serializer[Any]):
    orders = SeenOrder(many=True, allow_empty=False)


class LeftRow(serializers.Serializer[Any]):
    number = serializers.CharField()
    why = serializers.ListField(child=serializers.CharField())


class ApprovedRow(serializers.Serializer[Any]):
    approved = serializers.ListField(child=serializers.CharField())
    left = LeftRow(many=True, help_text="Not approved, and why not.")


class ApproveUnflagged(OrderAct):
    """Approve those that carry no flag, each on the version that was read."""

    operation = "orders_approve_unflagged"
    needs_version = has_version = False
    body_class = ApproveUnflaggedBody
    answer_class: ClassVar[type[serializers.Serializer[Any]]] = ApprovedRow

    def done(self, body: Body) -> orders.ApprovedTogether:
        named = [(one["number"], one["version"]) for one in body["orders"]]
        return orders.approve_unflagged(named, hand=self.hand)


class Undo(OrderAct):
    """A draft again, until it is sent."""

    operation = "order_undo_approval"
    body_class = Nothing

    def act_on(self, number: str, body: Body) -> None:
        orders.undo_approval(number, hand=self.hand)


class Skip(OrderAct):
    """Let this delivery pass; refused without a word why."""

    operation = "order_skip_delivery"
    body_class = Why

    def act_on(self, number: str, body: Body) -> None:
        order_lines.skip_delivery(number, why=body.get("why", ""), hand=self.hand)


class TakeUp(OrderAct):
    """Order for a skipped delivery after all."""

    operation = "order_take_up"
    body_class = Nothing

    def act_on(self, number: str, body: Body) -> None:
        order_lines.take_up(number, hand=self.hand)


class SendBody(serializers.Serializer[Any]):
    to = serializers.EmailField(required=False, help_text="Left out: the supplier's address.")


class Send(OrderAct):
    """Send by e-mail; sent once, however often it is asked."""

    operation = "order_send"
    body_class = SendBody

    def act_on(self, number: str, body: Body) -> None:
        sending.send(number, to=body.get("to", ""), hand=self.hand)


class MarkSentBody(serializers.Serializer[Any]):
    how = serializers.ChoiceField([str(how) for how in sending.BY_HAND])
    to = Words(254, required=False, help_text="Who took it.")


class MarkSent(OrderAct):
    """It left by paper, phone or file, or was typed elsewhere."""

    operation = "order_mark_as_sent"
    body_class = MarkSentBody

    def act_on(self, number: str, body: Body) -> None:
        how = Sending.How(body["how"])
        sending.mark_as_sent(number, how, to=body.get("to", ""), hand=self.hand)


class AnswerLine(LineName):
    says = serializers.ChoiceField(Answer.Says.choices)
    cases = Whole(most=MOST_CASES, required=False, help_text="What will come.")
    substitute = Words(40, code=f"^{CODE}$", required=False, help_text="The item offered instead.")
    new_date = Day(required=False)
    note = Words(200, required=False)


class AnswersBody(serializers.Serializer[Any]):
    lines = AnswerLine(many=True, allow_empty=False)


class NoteAnswers(LinesAct):
    """What the supplier says, line by line."""

    operation = "order_answers"
    body_class = AnswersBody
    inputs = {"coming": "cases", "day": "new_date"}

    def act_on(self, number: str, body: Body) -> None:
        rows = body["lines"]
        said = [
            answers.Said(
                line.pk,
                row["says"],
                row.get("cases"),
                row.get("substitute", ""),
                row.get("new_date"),
                row.get("note", ""),
            )
            for line, row in zip(self.lines_of(number, rows), rows, strict=True)
        ]
        answers.note_answers(number, said, hand=self.hand)


class ConfirmAll(OrderAct):
    """All lines come as ordered."""

    operation = "order_confirm_all"
    body_class = Nothing

    def act_on(self, number: str, body: Body) -> None:
        answers.confirm_all(number, hand=self.hand)


class Cancel(OrderAct):
    """Nothing of it will come. Of a sent order, tell the supplier."""

    operation = "order_cancel"
    body_class = Why

    def act_on(self, number: str, body: Body) -> None:
        orders.cancel(number, why=body.get("why", ""), hand=self.hand)


class GiveUpBody(Why):
    lines = LineName(many=True, allow_empty=False)


class GiveUp(LinesAct):
    """Stop waiting for what these lines have still to bring."""

    operation = "order_give_up"
    body_class = GiveUpBody

    def act_on(self, number: str, body: Body) -> None:
        lines = self.lines_of(number, body["lines"])
        why = body.get("why", "")
        orders.give_up(number, [line.pk for line in lines], why=why, hand=self.hand)
