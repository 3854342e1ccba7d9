"""People as the rest of the program sees them: what they may do, and where."""

from __future__ import annotations

from django.contrib.auth.models import User

from inventory.models import Device, Membership
from inventory.problems import NotThere
from inventory.roles import Act, Grant, Viewer


def viewer_of(user: User, device: Device | None = None) -> Viewer:
    """One query. ``device``: the shared tablet or phone the person stands at."""
    rows = Membership.objects.filter(user=user).order_by("pk")
    grants = tuple(
        Grant(row.role, row.location_id, row.approve_up_to, row.sees_cost) for row in rows
    )
    return Viewer(
        user_id=user.pk,
        name=user.get_full_name() or user.get_username(),
        grants=grants,
        device=device.name if device else "",
        device_location_id=device.location_id if device else None,
    )


def see(viewer: Viewer, location_id: int, act: Act = Act.SEE) -> None:
    """What somebody may not see is not there, as if it had never been."""
    if not viewer.may(act, location_id):
        raise NotThere
