"""A trace in sentences that can be read out on the phone: the same for page, paper and command."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.utils.translation import gettext as _

from inventory.engine.dates import BusinessClock
from inventory.models import Item, Lot, Stop
from inventory.selectors.business import business
from inventory.selectors.measures import Measures, item_measures
from purchasing import words
from purchasing.models import ReceiptLine
from purchasing.selectors.hold_words import hold_reason
from purchasing.selectors.trace import Reached, Trace, Whereabouts, trace

_THREE_PLACES = Decimal("0.001")


@dataclass(frozen=True, slots=True)
class Sum:
    """One line of the account: ``words`` and how much of it, in the item's unit."""

    words: str
    figure: str
    details: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Leg:
    """A lot on the way; ``depth`` sets it in."""

    strip: str
    item: str
    depth: int
    sentence: str
    details: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Told:
    strip: str
    item: str
    unit: str
    supplier_lot: str
    parts: tuple[str, ...]
    came_from: tuple[str, ...]
    account: tuple[Sum, ...]
    total: str
    adds_up: bool
    behind: tuple[Leg, ...]
    ahead: tuple[Leg, ...]
    holds: tuple[str, ...]
    places_to_tell: tuple[str, ...]


def told(lot: Lot) -> Told:
    return Teller(item_measures(), business().clock).tell(trace(lot))


class Teller:
    def __init__(self, measures: Measures, clock: BusinessClock) -> None:
        self._measures = measures
        self._clock = clock

    def tell(self, found: Trace) -> Told:
        lot, whole = found.lot, found.whereabouts
        return Told(
            strip=lot.strip,
            item=lot.item.name,
            unit=lot.item.unit,
            supplier_lot=lot.supplier_lot,
            parts=tuple(part.strip for part in found.parts),
            came_from=tuple(self.came(lot, found.received)),
            account=tuple(self._account(lot.item, whole)),
            total=self._figure(lot.item, whole.account.accounted),
            adds_up=whole.account.adds_up,
            behind=tuple(self._back_leg(one, found) for one in found.behind),
            ahead=tuple(self._leg(one) for one in found.ahead if one.lot not in found.parts),
            holds=tuple(self._hold(found)),
            places_to_tell=_places(found),
        )

    def came(self, lot: Lot, received: Mapping[int, ReceiptLine]) -> Iterator[str]:
        line = received.get(lot.pk)
        if line is not None:
            yield self._received(line)
        elif lot.origin == Lot.Origin.BATCH:
            yield _("Made here on %(day)s.") % {"day": self._day(lot.received_on)}
        elif lot.origin == Lot.Origin.PART and lot.parent is not None:
            yield _("Part of %(strip)s since %(day)s.") % {
                "strip": lot.parent.strip,
                "day": self._day(lot.state_since or lot.received_on),
            }
        else:
            yield _(
                "There when the books were opened; received %(day)s, from whom is not known."
            ) % {"day": self._day(lot.received_on)}

    def _received(self, line: ReceiptLine) -> str:
        receipt = line.receipt
        source = receipt.supplier.name if receipt.supplier else receipt.bought_from
        said = _("Came from %(source)s on %(day)s at %(hour)s to %(place)s") % {
            "source": source,
            "day": self._day(self._local(receipt.happened_at).date()),
            "hour": f"{self._local(receipt.happened_at):%H:%M}",
            "place": receipt.location.name,
        }
        extra = []
        if receipt.order is not None:
            extra.append(_("order %(number)s") % {"number": receipt.order.number})
        if receipt.document:
            extra.append(_("delivery note %(number)s") % {"number": receipt.document})
        if receipt.by is not None:
            name = receipt.by.get_full_name() or receipt.by.get_username()
            extra.append(_("received by %(name)s") % {"name": name})
        if line.temperature is not None:
            degrees = words.exactly(line.temperature, f"°{line.temperature_unit}")
            extra.append(_("probed at %(degrees)s") % {"degrees": degrees})
        return f"{'; '.join([said, *extra])}."

    def _account(self, item: Item, whole: Whereabouts) -> Iterator[Sum]:
        sums = whole.account

        def line(label: str, qty: Decimal, details: Iterable[str] = ()) -> Sum:
            return Sum(label, self._figure(item, qty), tuple(details))

        yield line(_("came"), sums.came)
        yield line(_("on hand"), sums.on_hand, self._here(item, whole))
        yield line(_("on its way"), sums.on_its_way, self._loads(item, whole))
        yield line(_("used in batches"), sums.used_in)
        if sums.parts:
            yield line(_("under other strips"), sums.parts)
        yield line(_("sold or served"), sums.sold, self._sold(item, whole))
        yield line(_("taken out"), sums.taken_out, self._out(item, whole))
        yield line(_("not explained"), sums.not_explained, self._missing(item, whole))

    def _here(self, item: Item, whole: Whereabouts) -> Iterator[str]:
        for place, sums in whole.places:
            if sums.on_hand:
                yield f"{self._amount(item, sums.on_hand)}, {place.name}"

    def _loads(self, item: Item, whole: Whereabouts) -> Iterator[str]:
        for load in whole.loads:
            if load.transfer.arrived_at is None:
                yield _("%(qty)s to %(place)s (%(number)s)") % {
                    "qty": self._amount(item, load.qty),
                    "place": load.transfer.target.name,
                    "number": load.transfer.number,
                }

    def _missing(self, item: Item, whole: Whereabouts) -> Iterator[str]:
        for load in whole.loads:
            if load.missing:
                yield _("%(qty)s did not arrive at %(place)s (%(number)s)") % {
                    "qty": self._amount(item, load.missing),
                    "place": load.transfer.target.name,
                    "number": load.transfer.number,
                }

    def _sold(self, item: Item, whole: Whereabouts) -> Iterator[str]:
        for sold in whole.sold:
            said = f"{self._amount(item, sold.qty)}, {sold.place.name}, {words.day_name(sold.day)}"
            yield ", ".join([said, *map(_stop, sold.stops)])

    def _out(self, item: Item, whole: Whereabouts) -> Iterator[str]:
        for out in whole.taken_out:
            yield f"{self._amount(item, out.qty)} {out.why}, {out.place.name}"

    def _leg(self, one: Reached) -> Leg:
        took = self._amount(one.source.item, one.qty)
        if one.batch:
            sentence = _("%(qty)s of %(source)s went into it on %(day)s") % {
                "qty": took,
                "source": one.source.strip,
                "day": self._day(one.lot.received_on),
            }
        else:
            sentence = _("%(qty)s of %(source)s became a part of its own on %(day)s") % {
                "qty": took,
                "source": one.source.strip,
                "day": self._day(one.lot.state_since or one.lot.received_on),
            }
        return Leg(one.lot.strip, one.lot.item.name, one.level, sentence, tuple(self._where(one)))

    def _back_leg(self, one: Reached, found: Trace) -> Leg:
        sentence = _("%(qty)s of it went in") % {"qty": self._amount(one.lot.item, one.qty)}
        came = tuple(self.came(one.lot, found.received))
        if one.lot.supplier_lot:
            came = (_("Lot code %(code)s.") % {"code": one.lot.supplier_lot}, *came)
        return Leg(one.lot.strip, one.lot.item.name, one.level, sentence, came)

    def _where(self, one: Reached) -> Iterator[str]:
        item, sums = one.lot.item, one.whereabouts.account
        if one.batch:
            yield _("%(qty)s were made") % {"qty": self._amount(item, sums.came)}
        for label, details in (
            (_("on hand"), self._here(item, one.whereabouts)),
            (_("on its way"), self._loads(item, one.whereabouts)),
            (_("sold or served"), self._sold(item, one.whereabouts)),
            (_("taken out"), self._out(item, one.whereabouts)),
        ):
            if said := list(details):
                yield f"{label}: {'; '.join(said)}"
        if sums.not_explained:
            yield _("not explained: %(qty)s") % {"qty": self._amount(item, sums.not_explained)}

    def _hold(self, found: Trace) -> Iterator[str]:
        for hold in found.holds:
            yield _("%(strip)s is on hold %(where)s: %(why)s") % {
                "strip": hold.lot.strip,
                "where": _("at %(place)s") % {"place": hold.location.name}
                if hold.location
                else _("everywhere"),
                "why": hold_reason(hold),
            }

    def _amount(self, item: Item, qty: Decimal) -> str:
        return words.exactly(self._own(item, qty), item.unit)

    def _figure(self, item: Item, qty: Decimal) -> str:
        return words.exactly(self._own(item, qty), "each")

    def _own(self, item: Item, qty: Decimal) -> Decimal:
        return self._measures.in_own_unit(item.code, qty).quantize(_THREE_PLACES)

    def _day(self, day: date | None) -> str:
        return words.day_name(day) if day else _("a day not known")

    def _local(self, moment: datetime) -> datetime:
        return self._clock.local(int(moment.timestamp()))


def _stop(stop: Stop) -> str:
    hour = f"{stop.opens:%H:%M}" if stop.opens else ""
    return stop.event or stop.site or hour or _("a stop without a name")


def _places(found: Trace) -> tuple[str, ...]:
    """Where somebody must be told: some of it, or of what was made of it, is there."""
    whole = [found.whereabouts, *(one.whereabouts for one in found.ahead)]
    names = {place.name for one in whole for place, sums in one.places if sums.on_hand}
    coming = {
        load.transfer.target.name
        for one in whole
        for load in one.loads
        if load.transfer.arrived_at is None
    }
    return tuple(sorted(names | coming))
