"""What the inputs of a delivery are called, for sentences about what cannot be read."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from django.utils.translation import gettext as _

from purchasing.selectors.delivery_page import DeliveryPage


def dock_names(page: DeliveryPage) -> Callable[[str], str]:
    """By the name of an input: the line's item and the input's label."""
    items = {f"l{line.pk}": line.item for line in page.lines}

    def name_of(field: str) -> str:
        of, _bar, name = field.partition("-")
        if of == "g":
            return _("Temperature of the %(group)s group") % {"group": _groups().get(name, name)}
        label = _labels().get(name, name)
        return ", ".join(filter(None, (items.get(of, ""), label)))

    return name_of


def _groups() -> Mapping[str, str]:
    named = {"chilled": _("chilled"), "frozen": _("frozen"), "dry": _("dry")}
    return {f"{key}-temp": word for key, word in named.items()}


def _labels() -> Mapping[str, str]:
    return {
        "expected": _("cases still to come"),
        "accepted": _("cases we keep"),
        "rejected": _("cases sent back"),
        "cases2": _("cases of a second lot"),
        "weights": _("weight of each case"),
        "weights2": _("weights of the second lot"),
        "total": _("total weight"),
        "temp": _("temperature of a suspect case"),
        "printed": _("day on the label"),
        "use_by": _("use-by"),
        "use_by2": _("use-by of the second lot"),
        "sub_item": _("what came instead"),
        "sub_cases": _("what came instead, for how many cases"),
        "sub_qty": _("what came instead, how much of it"),
        "sub_use_by": _("use-by of what came instead"),
    }
