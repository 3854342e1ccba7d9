"""What lists may be asked for."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from inventory.api.codes import CODE
from inventory.api.fields import Moment, Words


class ChangedSince(serializers.Serializer[Any]):
    """Only what changed at or after a moment."""

    changed_since = Moment(required=False, help_text="ISO 8601 with its zone.")


class AtPlace(serializers.Serializer[Any]):
    """Only what is at one place."""

    location = Words(40, code=f"^{CODE}$", required=False, help_text="The location's code.")
