"""What the log has written down, in words: places, items and people by name, quantities in the
kitchen's units, money as money. Events keep codes and base units, for they are never changed."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from decimal import Decimal, InvalidOperation

from django.contrib.auth.models import User
from django.utils.translation import gettext as _

from inventory.models import Event, Hold, Item, Location, Lot, Membership
from inventory.selectors.measures import Measures
from purchasing import words
from purchasing.form_words import fact_labels
from purchasing.models import Answer, Offer, Sending, Supplier
from purchasing.selectors.log_verbs import thing_words, verb_words
from purchasing.selectors.par_words import PER_CENT, basis_words, day_names

LONGEST_CHANGE = 160
_MONEY = {"value", "sale_price", "price", "piece_price", "minimum_order", "delivery_fee"}
_PLACES = {"location", "place", "from", "supplied_by"}


class Teller:
    """Names of what a page of events speaks of: read once, six queries."""

    def __init__(self, events: Iterable[Event], measures: Measures, currency: str) -> None:
        subjects = [event.subject.partition(":") for event in events]
        self._measures, self._currency = measures, currency
        self._places = dict(Location.objects.values_list("code", "name"))
        self._items = dict(Item.objects.values_list("code", "name"))
        self._people = {user.username: user.get_full_name() for user in User.objects.all()}
        self._suppliers = dict(Supplier.objects.values_list("code", "name"))
        strips = {code for kind, _colon, code in subjects if kind == "lot"}
        lots = Lot.objects.filter(strip__in=strips).select_related("item")
        self._lots = {lot.strip: lot.item for lot in lots}
        numbers = {int(code) for kind, _colon, code in subjects if kind == "offer" and _id(code)}
        offers = Offer.objects.filter(pk__in=numbers).select_related("item", "supplier")
        self._offers = {
            str(offer.pk): f"{offer.item.name}, {offer.supplier.name}" for offer in offers
        }

    def verb(self, event: Event) -> str:
        return verb_words(event.verb, event.subject.partition(":")[0])

    def thing(self, event: Event) -> str:
        """``lot KALUM, Leeks``."""
        kind, _colon, code = event.subject.partition(":")
        if kind == "par":
            place, _colon, item = code.partition(":")
            named = {"item": self._items.get(item, item), "place": self._places.get(place, place)}
            return _("%(item)s at %(place)s") % named
        if kind == "offer":
            return self._offers.get(code, f"{thing_words(kind, code)} {code}".strip())
        name = self._name(kind, code)
        said = thing_words(kind, code)
        return f"{said}, {name}" if name and name != code else said

    def _name(self, kind: str, code: str) -> str:
        if kind == "lot":
            return self._lots[code].name if code in self._lots else ""
        named = {"item": self._items, "person": self._people, "supplier": self._suppliers}
        return named.get(kind, {}).get(code, "")

    def changes(self, event: Event) -> Iterator[str]:
        """``life as received or made: 9, now 8``."""
        if not isinstance(event.changes, Mapping):
            return
        for name, told in sorted(event.changes.items()):
            if name == "version" or told in ("", [], {}, ["", ""]):
                continue
            label, said = self._label(name, event), self._told(name, told, event)
            text = f"{label}: {said}"
            yield text if len(text) <= LONGEST_CHANGE else f"{text[:LONGEST_CHANGE]}…"

    def _label(self, name: str, event: Event) -> str:
        if name == "qty" and event.subject.startswith("lot:"):
            return _("how much")
        weekday = name.removeprefix("weekday ")
        if weekday != name and weekday in "0123456":
            return day_names()[int(weekday) + 1]
        return _labels().get(name) or fact_labels().get(name) or name.replace("_", " ")

    def _told(self, name: str, told: object, event: Event) -> str:
        def value(one: object) -> str:
            return self._value(name, one, event)

        match told:
            case [was, now] if name not in ("lots", "part") or was == "":
                return _pair(was, now, value)
            case list():
                return ", ".join(value(one) for one in told)
            case Mapping():
                return "; ".join(self._of_one(key, one, name, event) for key, one in told.items())
            case _any:
                return value(told)

    def _of_one(self, key: str, told: object, name: str, event: Event) -> str:
        """Of one line of many: its item and what became of it."""
        said = self._items.get(key, key)
        match told:
            case [was, now]:
                return _("%(item)s %(was)s, now %(now)s cases") % {
                    "item": said,
                    "was": was,
                    "now": now,
                }
            case _any:
                return f"{said} {self._value(name, told, event)}"

    def _value(self, name: str, told: object, event: Event) -> str:
        if isinstance(told, Mapping):
            return "; ".join(f"{key} {self._value(name, one, event)}" for key, one in told.items())
        if isinstance(told, list):
            return ", ".join(self._value(name, one, event) for one in told)
        text = str(told)
        if name == "qty":
            return self._amount(text, event)
        if name in _MONEY:
            return self._sum(text)
        if name in _PLACES or (name == "to" and event.subject.startswith("transfer:")):
            return self._places.get(text, text)
        if name.startswith("weekday ") or name == "every day":
            return self._par(text)
        return _choices(name).get(text, text)

    def _amount(self, text: str, event: Event) -> str:
        item, qty = self._lots.get(event.subject.partition(":")[2]), _decimal(text)
        if item is None or qty is None:
            return text
        return words.quantity(self._measures.in_own_unit(item.code, qty), item.unit)

    def _sum(self, text: str) -> str:
        value = _decimal(text.replace(",", ""))
        return text if value is None else f"{words.money(value)} {self._currency}".strip()

    def _par(self, text: str) -> str:
        """``12 kg fixed 0.95 MILL`` as it was written down."""
        return ", ".join(filter(None, self._par_words(text.split())))

    def _par_words(self, parts: list[str]) -> Iterator[str]:
        bases = [place for place, word in enumerate(parts) if basis_words(word) != word]
        if not bases:
            yield " ".join(parts)
            return
        at = bases[0]
        yield " ".join(parts[:at])
        yield basis_words(parts[at])
        for word in parts[at + 1 :]:
            level = _decimal(word)
            if level is not None and 0 < level < 1:
                yield f"{(level * PER_CENT).normalize():f} %"
            else:
                yield _("from %(place)s") % {"place": self._places.get(word, word)}


def _id(code: str) -> bool:
    return code.isascii() and code.isdigit() and len(code) < 18


def _decimal(text: str) -> Decimal | None:
    try:
        value = Decimal(text)
    except InvalidOperation:
        return None
    return value if value.is_finite() else None


def _pair(was: object, now: object, value: Callable[[object], str]) -> str:
    if not was and was != 0:
        return value(now)
    told = {"was": value(was), "now": value(now) if now not in (None, "") else _("nothing")}
    return _("%(was)s, now %(now)s") % told


def _labels() -> Mapping[str, str]:
    """Facts that are no columns of a form."""
    return {
        "location": _("where"),
        "place": _("where"),
        "from": _("from"),
        "to": _("to"),
        "how": _("how"),
        "part": _("as"),
        "role": _("as"),
        "reason": _("why"),
        "cases": _("cases"),
        "says": _("the supplier says"),
        "value": _("worth"),
        "use_by": _("use by"),
        "closed": _("closed on"),
        "receipt": _("receipt"),
        "to_follow": _("still to come"),
        "over": _("more than ordered"),
        "override": _("taken in against a caution"),
        "retired_on": _("retired on"),
        "valid_from": _("price from"),
    }


def _choices(name: str) -> Mapping[str, str]:
    """What the words of a fact are on the pages."""
    fields: dict[str, list[tuple[str, object]]] = {
        "role": list(Membership.Role.choices),
        "reason": list(Hold.Reason.choices),
        "says": list(Answer.Says.choices),
        "how": list(Sending.How.choices),
        "kind": list(Item.Kind.choices),
        "storage": list(Item.Storage.choices),
        "on_return": list(Item.OnReturn.choices),
        "use_per": list(Item.UsePer.choices),
    }
    return {value: _(str(label)) for value, label in fields.get(name, [])}
