"""What was done and to what kind of thing, as the log tells it."""

from __future__ import annotations

from django.utils.translation import gettext as _


def verb_words(verb: str, kind: str = "") -> str:
    """In the past, as one tells it; a verb not known here reads as it is. ``kind`` of the
    subject, where a verb means another thing for each."""
    known = {**_verbs(), **_verbs_of(kind)}
    return known.get(verb, verb.replace("_", " "))


def thing_words(kind: str, code: str) -> str:
    """``order S1-20260304-1``, ``load T4``."""
    if kind == "finding":
        named = {"par_tips": _("tips for pars"), "forecasts": _("the record of forecasts")}
        return named.get(code, code)
    word = {
        "order": _("order"),
        "lot": _("lot"),
        "item": _("item"),
        "person": "",
        "supplier": "",
        "device": _("device"),
        "transfer": _("load"),
        "receipt": _("receipt"),
        "replay": _("replay"),
        "offer": _("offer"),
        "workbook": _("workbook"),
    }.get(kind, kind)
    return f"{word} {code}".strip()


def _verbs_of(kind: str) -> dict[str, str]:
    match kind:
        case "order":
            return {"take_up": _("took up again"), "add": _("added a line to")}
        case "device":
            return {"take_up": _("shared")}
        case "supplier":
            return {"close": _("noted a closed day of"), "open": _("took back a closed day of")}
        case "transfer":
            return {"send": _("sent")}
        case _:
            return {}


def _verbs() -> dict[str, str]:
    return {
        "add": _("added"),
        "add_offer": _("added an offer:"),
        "answer": _("noted the answer to"),
        "approve": _("approved"),
        "arrive": _("took in"),
        "asked": _("asked for"),
        "bring_back": _("brought back"),
        "buy": _("bought"),
        "call_back": _("called back"),
        "cancel": _("cancelled"),
        "change": _("changed"),
        "change_offer": _("changed an offer:"),
        "change_part": _("changed what may be done by"),
        "change_supplier": _("changed"),
        "close": _("closed"),
        "end_part": _("ended a part of"),
        "freeze": _("froze some of"),
        "give_part": _("gave a part to"),
        "give_up": _("gave up what was missing of"),
        "hold": _("put on hold"),
        "invite": _("invited"),
        "join": _("let in"),
        "load": _("loaded"),
        "make_address": _("made a one-time address for"),
        "make_token": _("made a token for"),
        "open": _("opened some of"),
        "photograph": _("photographed"),
        "portion": _("portioned"),
        "receive": _("received"),
        "release": _("released"),
        "retire": _("retired"),
        "retire_offer": _("retired an offer:"),
        "retire_token": _("ended a token of"),
        "send": _("asked to send"),
        "sent": _("sent"),
        "set_number": _("made a personal number for"),
        "set_pars": _("set the pars of"),
        "set_password": _("set a password:"),
        "skip": _("let pass the delivery of"),
        "stopped": _("stopped"),
        "take_out": _("took out"),
        "take_up": _("took up"),
        "thaw": _("thawed some of"),
        "undo": _("took back the approval of"),
        "undo_arrival": _("took back the arrival of"),
        "undo_receipt": _("took back the delivery of"),
    }
