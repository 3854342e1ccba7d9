"""The use-by board: the last look at lots at risk, brought up to what is there now."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db.models import Exists, OuterRef
from django.utils.translation import gettext as _

from inventory.engine.help import Case, Elsewhere, Help, Way, what_would_help
from inventory.engine.take_outs import Why
from inventory.models import Hold, Movement, OnHand, RecipeLine, Transfer, TransferLine
from inventory.roles import Act, Viewer
from inventory.selectors import seen
from inventory.selectors.business import Business, business
from inventory.selectors.measures import Measures, item_measures
from inventory.selectors.seen import narrowed
from purchasing import words
from purchasing.models import LotRisk, UseByLook
from purchasing.models.risks import CALM
from purchasing.selectors.help_words import Choice, Own, choice
from purchasing.selectors.hold_words import hold_reason
from purchasing.selectors.use_by import DEFAULT_DAYS

AT_ONCE = 40
NEWCOMERS = 20
_NOTHING = Decimal("0.001")

# After these the figures of a look are of more than there is; what sales use they foresee.
_TAKEN = (Movement.Kind.TAKE_OUT, Movement.Kind.SENT, Movement.Kind.SPLIT)

OneLot = tuple[int, int]  # lot and location


@dataclass(frozen=True, slots=True)
class BoardStrip:
    """One lot at one place. ``exact``: all of it, in its ``unit``, as a form sends it.

    ``lost``: how much will not be used, and how likely that is, or that some was taken since
    and nobody knows. ``value`` empty: nothing at risk, not known, or not for this person.
    """

    strip: str
    item: str
    place: str
    place_code: str
    there: str
    exact: str
    unit: str
    use_by: str
    left: str
    note: str
    lost: str
    value: str
    choices: tuple[Choice, ...]
    may_hold: bool

    @property
    def best(self) -> tuple[Choice, ...]:
        """The first help, and what is no press: always in sight."""
        return tuple(one for nth, one in enumerate(self.choices) if nth == 0 or not one.sends)

    @property
    def others(self) -> tuple[Choice, ...]:
        return tuple(one for one in self.choices if one not in self.best)

    @property
    def row(self) -> str:
        """Its name among the rows of the board."""
        return f"{self.strip}-{self.place_code}"


@dataclass(frozen=True, slots=True)
class OnItsWay:
    number: str
    what: str
    source: str
    target: str
    since: str


@dataclass(frozen=True, slots=True)
class Board:
    """``worked_out`` empty: never yet. ``is_waiting``: somebody asked, the next tick does it."""

    worked_out: str
    is_waiting: bool
    until: str
    currency: str
    shows_money: bool
    strips: tuple[BoardStrip, ...]
    newcomers: tuple[BoardStrip, ...]
    calm: int
    shows_calm: bool
    next_from: int | None
    coming: tuple[OnItsWay, ...]
    reasons: tuple[tuple[str, str], ...]

    @property
    def unsafe(self) -> tuple[BoardStrip, ...]:
        """Past their use-by or on hold: named above the rest, wherever their money puts them."""
        return tuple(one for one in (*self.strips, *self.newcomers) if one.note)


def use_by_board(
    viewer: Viewer, now: datetime, *, start: int = 0, shows_calm: bool = False
) -> Board:
    """From position ``start`` of the look on; a number of queries that does not grow."""
    house, measures = business(), item_measures()
    look = _last_look()
    today = house.day_of(now)
    rows = _rows(look, viewer, start, shows_calm) if look else []
    fresh = _newcomers(look, viewer, today) if not start else []
    is_waiting = _is_waiting()
    shelf = _Shelf([*rows[:AT_ONCE], *fresh], viewer, measures, today)
    shelf.taken_since(look, is_waiting=is_waiting)
    return Board(
        worked_out=_hour(look, house, now),
        is_waiting=is_waiting,
        until=words.day_name(look.until) if look and look.until else "",
        currency=house.currency,
        shows_money=viewer.sees_cost(),
        strips=tuple(shelf.strip(row) for row in rows[:AT_ONCE] if shelf.qty(row) > 0),
        newcomers=tuple(shelf.strip(row) for row in fresh if shelf.qty(row) > 0),
        calm=_calm(look, viewer) if look and not start else 0,
        shows_calm=shows_calm,
        next_from=rows[AT_ONCE].position if len(rows) > AT_ONCE else None,
        coming=tuple(_coming(viewer, measures, house, now)),
        reasons=tuple((value, _(label)) for value, label in Hold.Reason.choices),
    )


def strip_now(viewer: Viewer, strip: str, place_code: str, now: datetime) -> BoardStrip | None:
    """One lot at one place as the board has it now; None where none is left there."""
    rows = seen.on_hand(viewer).filter(lot__strip=strip.upper(), location__code=place_code)
    row = rows.first()
    if row is None:
        return None
    look = _last_look()
    known = (
        look.risks.filter(lot=row.lot, location=row.location) if look else LotRisk.objects.none()
    )
    risk = known.select_related("lot__item", "location", "move_to").first()
    shelf = _Shelf([risk or _new(row)], viewer, item_measures(), business().day_of(now))
    shelf.taken_since(look, is_waiting=_is_waiting())
    return shelf.strip(risk or _new(row))


def _last_look() -> UseByLook | None:
    return UseByLook.objects.filter(done_at__isnull=False).order_by("-done_at", "-pk").first()


def _is_waiting() -> bool:
    return UseByLook.objects.filter(done_at__isnull=True).exists()


def unit_of(viewer: Viewer, strip: str) -> str:
    """The unit in which the helps of a lot are said. Raises ``NotThere``."""
    return seen.only(seen.lots(viewer).prefetch_related(None), strip=strip.upper()).item.unit


def _rows(look: UseByLook, viewer: Viewer, start: int, shows_calm: bool) -> list[LotRisk]:
    there = OnHand.objects.filter(lot=OuterRef("lot"), location=OuterRef("location"), qty__gt=0)
    rows = look.risks.filter(Exists(there), position__gte=start)
    if not shows_calm:
        rows = rows.filter(chance__gte=CALM)
    # First which ones, by the index alone: joined tables would be read, and sorted, as a whole.
    found = narrowed(rows, viewer).order_by("position").values_list("pk", flat=True)
    whole = LotRisk.objects.select_related("lot__item", "location", "move_to")
    return list(whole.filter(pk__in=list(found[: AT_ONCE + 1])).order_by("position"))


def _calm(look: UseByLook, viewer: Viewer) -> int:
    """Lots that expire in these days and will be used in time."""
    return narrowed(look.risks.filter(chance__lt=CALM), viewer).count()


def _newcomers(look: UseByLook | None, viewer: Viewer, today: date) -> list[LotRisk]:
    """Lots that came after the look, or all where there was none, soonest to expire first:
    what will become of them is not worked out."""
    last = (look.until if look else None) or today + timedelta(days=DEFAULT_DAYS)
    rows = OnHand.objects.filter(qty__gt=0, lot__use_by__lte=last)
    if look is not None:
        rows = rows.filter(lot__gt=look.newest_lot)
    rows = narrowed(rows, viewer).select_related("lot__item", "location")
    return [_new(row) for row in rows.order_by("lot__use_by", "lot__strip")[:NEWCOMERS]]


def _new(row: OnHand) -> LotRisk:
    return LotRisk(lot=row.lot, location=row.location, expected=0, chance=0)


class _Shelf:
    """What is there now of the lots of one page, and what holds them back."""

    def __init__(
        self, rows: Sequence[LotRisk], viewer: Viewer, measures: Measures, today: date
    ) -> None:
        self._viewer, self._measures, self._today = viewer, measures, today
        ids = [row.lot_id for row in rows]
        there = OnHand.objects.filter(lot__in=ids, qty__gt=0)
        self._qty: dict[OneLot, Decimal] = {
            (lot, place): qty for lot, place, qty in there.values_list("lot", "location", "qty")
        }
        self._held: dict[int, list[Hold]] = defaultdict(list)
        for hold in Hold.objects.still_open().filter(lot__in=ids):
            self._held[hold.lot_id].append(hold)
        self._made_of_it = _made_of([row.lot.item_id for row in rows])
        self._ids = ids
        self._taken: frozenset[OneLot] = frozenset()
        self._again = ""

    def taken_since(self, look: UseByLook | None, *, is_waiting: bool) -> None:
        """Lots of which somebody took since the look began offer nothing by its old figures:
        a second press would take what is needed."""
        if look is None or look.done_at is None:
            return
        out = Movement.objects.filter(lot__in=self._ids, recorded_at__gt=look.done_at)
        out = out.filter(qty__lt=0, kind__in=_TAKEN).order_by()
        self._taken = frozenset(out.values_list("lot", "location"))
        wait, ask = _("being worked out again"), _("some was taken since; work it out again")
        self._again = wait if is_waiting else ask

    def qty(self, row: LotRisk) -> Decimal:
        return self._qty.get((row.lot_id, row.location_id), Decimal(0))

    def strip(self, row: LotRisk) -> BoardStrip:
        lot, place = row.lot, row.location
        left = (lot.use_by - self._today).days if lot.use_by else 0
        hold = self._hold(row)
        case = self._case(row, hold, left)
        value = row.cost * Decimal(repr(case.expected)) if row.cost is not None else None
        sees = self._viewer.sees_cost(place.pk)
        return BoardStrip(
            strip=lot.strip,
            item=lot.item.name,
            place=place.name,
            place_code=place.code,
            there=self._said(row, self.qty(row)),
            exact=words.exactly(self._in_own(row, self.qty(row)), "each").replace(",", ""),
            unit=lot.item.unit,
            use_by=words.day_name(lot.use_by) if lot.use_by else "",
            left=words.days_left(left),
            note=_note(hold, left),
            lost=self._lost(row, case),
            value=words.money(value) if sees and value else "",
            choices=tuple(self._choices(row, case, sees)),
            may_hold=self._viewer.may(Act.HOLD, place.pk) and hold is None,
        )

    def _hold(self, row: LotRisk) -> Hold | None:
        here = (None, row.location_id)
        return next((h for h in self._held[row.lot_id] if h.location_id in here), None)

    def _case(self, row: LotRisk, hold: Hold | None, left: int) -> Case:
        qty = self.qty(row)
        is_lost = hold is not None or left < 0
        other = row.move_to if row.move_to_id else None
        return Case(
            qty=float(qty),
            expected=float(qty if is_lost else self._expected(row)),
            cost=None if row.cost is None else float(row.cost),
            is_past=left < 0,
            on_hold=hold is not None,
            may_freeze=row.lot.item.may_freeze and row.lot.state != row.lot.State.FROZEN,
            elsewhere=(Elsewhere(other.code, float(row.move_qty)),) if other else (),
            goes_into=tuple(code for code, _name in self._made_of_it[row.lot.item_id]),
        )

    def _is_taken(self, row: LotRisk) -> bool:
        return (row.lot_id, row.location_id) in self._taken

    def _expected(self, row: LotRisk) -> Decimal:
        return Decimal(0) if self._is_taken(row) else min(Decimal(row.expected), self.qty(row))

    def _choices(self, row: LotRisk, case: Case, sees: bool) -> Iterator[Choice]:
        for one in what_would_help(case):
            if self._viewer.may(_ACTS[one.way], row.location_id):
                own = Own(
                    self._in_own(row, Decimal(repr(one.qty))),
                    self._in_own(row, self.qty(row)),
                    row.lot.item.unit,
                )
                yield choice(one, own, self._names(row, one), why=_why(case), sees=sees)

    def _names(self, row: LotRisk, one: Help) -> Mapping[str, str]:
        if one.way is Way.MOVE and row.move_to is not None:
            return {row.move_to.code: row.move_to.name}
        return dict(self._made_of_it[row.lot.item_id])

    def _in_own(self, row: LotRisk, base: Decimal) -> Decimal:
        return self._measures.in_own_unit(row.lot.item.code, base)

    def _said(self, row: LotRisk, base: Decimal) -> str:
        return words.quantity(self._in_own(row, base), row.lot.item.unit)

    def _lost(self, row: LotRisk, case: Case) -> str:
        if case.is_past or case.on_hold:
            return ""
        if self._is_taken(row):
            return self._again
        if case.expected <= _NOTHING:
            return ""
        return _("%(qty)s will not be used in time: %(chance)s") % {
            "qty": self._said(row, Decimal(repr(case.expected))),
            "chance": words.chance(row.chance),
        }


_ACTS = {
    Way.ANSWER: Act.SEE,
    Way.MOVE: Act.MOVE,
    Way.FREEZE: Act.CHANGE_LOT,
    Way.PREP: Act.SEE,
    Way.STAFF_MEAL: Act.TAKE_OUT,
    Way.DONATE: Act.TAKE_OUT,
    Way.THROW_AWAY: Act.TAKE_OUT,
}


def _why(case: Case) -> Why:
    """Why it is thrown away, where it is."""
    if case.on_hold:
        return Why.HELD
    return Why.PAST_USE_BY if case.is_past else Why.TOO_MUCH


def _note(hold: Hold | None, left: int) -> str:
    said = []
    if hold is not None:
        said.append(_("on hold: %(why)s") % {"why": hold_reason(hold)})
    if left < 0:
        said.append(_("past its use-by"))
    return "; ".join(said)


def _made_of(items: Sequence[int]) -> dict[int, list[tuple[str, str]]]:
    """By item: code and name of what is made of it."""
    lines = RecipeLine.objects.filter(item__in=items, recipe__item__retired_on=None)
    found: dict[int, list[tuple[str, str]]] = defaultdict(list)
    for item, code, name in lines.order_by("recipe__item__name").values_list(
        "item", "recipe__item__code", "recipe__item__name"
    ):
        found[item].append((code, name))
    return found


def _hour(look: UseByLook | None, house: Business, now: datetime) -> str:
    """The hour, with its day where that is not today's."""
    if look is None or look.done_at is None:
        return ""
    local = house.clock.local(int(look.done_at.timestamp()))
    day = "" if local.date() == house.day_of(now) else f"{words.day_name(local.date())} "
    return f"{day}{local:%H:%M}"


def _coming(
    viewer: Viewer, measures: Measures, house: Business, now: datetime
) -> Iterator[OnItsWay]:
    """Goods between sites that somebody here may take in."""
    waiting = Transfer.objects.filter(
        kind=Transfer.Kind.BETWEEN, sent_at__isnull=False, arrived_at__isnull=True
    )
    waiting = narrowed(waiting, viewer, "target", Act.MOVE).select_related("source", "target")
    for transfer in waiting.prefetch_related("lines__lot__item").order_by("sent_at")[:NEWCOMERS]:
        what = [_carried(line, measures) for line in transfer.lines.all()]
        local, here = (
            house.clock.local(int(at.timestamp())) for at in (transfer.sent_at or now, now)
        )
        yield OnItsWay(
            number=transfer.number,
            what=", ".join(what),
            source=transfer.source.name,
            target=transfer.target.name,
            since=words.moment(here, local),
        )


def _carried(line: TransferLine, measures: Measures) -> str:
    item = line.lot.item
    qty = words.quantity(measures.in_own_unit(item.code, line.sent), item.unit)
    return f"{qty} {item.name} {line.lot.strip}"
