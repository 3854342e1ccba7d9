"""Why something is on hold, as people say it."""

from __future__ import annotations

from django.utils.translation import gettext as _

from inventory.models import Hold


def hold_reason(hold: Hold) -> str:
    """What was written down; the kind alone where it says enough."""
    if hold.reason == Hold.Reason.OTHER:
        return hold.note or _("nobody wrote down why")
    return ", ".join(filter(None, [_(hold.get_reason_display()), hold.note]))
