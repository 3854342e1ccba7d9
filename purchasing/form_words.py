"""What the facts of items, pars and their forms are called: one word each, on the form, in what
is wrong about it, and in the log."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils.translation import gettext as _


def fact_labels() -> Mapping[str, str]:
    """By the workbook's column."""
    return {
        "code": _("code"),
        "name": _("name"),
        "kind": _("kind"),
        "unit": _("unit"),
        "storage": _("kept"),
        "shelf_life_days": _("life as received or made"),
        "shelf_life_opened_days": _("life once opened"),
        "shelf_life_thawed_days": _("life once thawed"),
        "thaw_hours": _("hours to thaw"),
        "grams_per_ml": _("grams in 1 ml"),
        "grams_per_each": _("grams in one piece"),
        "allergens": _("allergens it contains"),
        "allergens_may": _("allergens it may contain"),
        "allergens_free": _("allergens it is free from"),
        "tcs": _("must be kept hot or cold to be safe"),
        "ready_to_eat": _("ready to eat: nobody cooks it again"),
        "traceability_listed": _("on the traceability list"),
        "may_freeze": _("may be frozen"),
        "can_be_left_off": _("a dish can go without it"),
        "sale_price": _("price it is sold at"),
        "on_return": _("when it comes back"),
        "use_per": _("its use goes by"),
        "litres_per_unit": _("litres one unit takes"),
        "walk_order": _("place on the shelf walk"),
        "item_units": _("its own units"),
        "qty": _("size"),
        "of_unit": _("unit of the size"),
        "par": _("par"),
        "basis": _("what decides"),
        "service_level": _("service level"),
        "supplied_by": _("comes from"),
    }
