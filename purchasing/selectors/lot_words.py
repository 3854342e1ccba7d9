"""How the date of a lot came about, in sentences."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from inventory.engine.date_marks import SPAN, Verdict
from inventory.engine.dates import Freeze
from inventory.models import Lot
from inventory.selectors.lot_dates import LotDate, ancestry, date_of
from purchasing import words


def dated(lot: Lot, on: date) -> tuple[str, ...]:
    """What stands on the label, why, and what has to follow from it."""
    return tuple(_sentences(lot, date_of(lot, on), on))


def _sentences(lot: Lot, found: LotDate, on: date) -> Iterator[str]:
    if lot.state == Lot.State.FROZEN and lot.parent is not None:
        yield _("Frozen since %(day)s: its clock stands, no date is due.") % {"day": _since(lot)}
    elif lot.use_by is None:
        yield _("No use-by is stated.")
    elif lot.parent is not None:
        yield from _of_part(lot)
    else:
        yield _of_whole(lot, lot.use_by)
    if found.mark is not None:
        said = {"used": min(found.mark.used, SPAN), "left": found.mark.left, "all": SPAN}
        if found.mark.last_day is None:
            yield _("%(used)d of %(all)d days used, %(left)d left.") % said
        elif not found.mark.is_over:
            yield _("Day %(used)d of %(all)d of its date mark, counted from %(day)s.") % {
                **said,
                "day": words.day_name(found.mark.day_one),
            }
    if found.verdict is not None and found.verdict.is_discard:
        yield _verdicts()[found.verdict]


def _verdicts() -> dict[Verdict, str]:
    return {
        Verdict.SPAN_OVER: _("Its seven days are over: discard it (Food Code 3-501.18)."),
        Verdict.NO_MARK: _(
            "Ready-to-eat food without a date mark is discarded (Food Code 3-501.18)."
        ),
        Verdict.MARKED_TOO_LATE: _(
            "Its mark is later than seven days allow: discard it (Food Code 3-501.18)."
        ),
    }


def _of_whole(lot: Lot, use_by: date) -> str:
    item, came = lot.item, lot.received_on
    made = lot.origin == Lot.Origin.BATCH
    life = item.shelf_life_days
    if came is None or life is None or came + timedelta(days=life) != use_by:
        if made and item.tcs and item.ready_to_eat and came is not None:
            return _("Made %(day)s; the date mark or what went in ends it.") % {
                "day": words.day_name(came)
            }
        return _("As it stands on the package, or as it was typed.")
    said = {"day": words.day_name(came), "life": _days(life)}
    if made:
        return _("Made %(day)s and kept %(life)s after.") % said
    return _("Received %(day)s and kept %(life)s after.") % said


def _of_part(lot: Lot) -> Iterator[str]:
    """The limits of which the earliest holds, as ``services.lots`` takes them."""
    limits = list(_limits(lot))
    if lot.use_by is None or not limits:
        return
    earliest = words.day_name(lot.use_by)
    yield _("%(day)s is the earliest of: %(limits)s.") % {
        "day": earliest,
        "limits": "; ".join(limits),
    }


def _limits(lot: Lot) -> Iterator[str]:
    parent, since = lot.parent, lot.state_since
    if parent is None:
        return
    if parent.state == Lot.State.FROZEN and parent.parent is not None and since is not None:
        yield from _of_thawed(parent, since)
    elif parent.use_by is not None:
        yield _("the lot it is of, %(day)s") % {"day": words.day_name(parent.use_by)}
    life = {
        Lot.State.OPENED: lot.item.shelf_life_opened_days,
        Lot.State.THAWING: lot.item.shelf_life_thawed_days,
    }.get(Lot.State(lot.state) if lot.state else Lot.State.CHILLED)
    if life is not None and since is not None and lot.state != parent.state:
        said = {"state": _(lot.get_state_display()), "day": _since(lot), "life": _days(life)}
        yield _("%(state)s %(day)s and kept %(life)s after") % said
    if lot.state == Lot.State.OPENED and lot.item.tcs and lot.item.ready_to_eat and since:
        last = words.day_name(since + timedelta(days=SPAN - 1))
        yield _("its date mark, %(day)s") % {"day": last}


def _of_thawed(frozen: Lot, thawed: date) -> Iterator[str]:
    before = next((one for one in reversed(ancestry(frozen)) if one.state != frozen.state), None)
    if before is None or before.use_by is None or frozen.state_since is None:
        return
    free = Freeze(frozen.state_since, thawed).free_days
    yield _("%(day)s before it was frozen and %(free)s whole in the freezer") % {
        "day": words.day_name(before.use_by),
        "free": _days(free),
    }


def _since(lot: Lot) -> str:
    return words.day_name(lot.state_since) if lot.state_since else _("a day not known")


def _days(count: int) -> str:
    return ngettext("%(count)d day", "%(count)d days", count) % {"count": count}
