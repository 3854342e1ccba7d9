"""Signing in at a shared device by a short personal number."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.backends import BaseBackend
from django.contrib.auth.hashers import check_password
from django.contrib.auth.models import User
from django.http import HttpRequest

from inventory.models import PersonalNumber
from inventory.web.devices import device_of


class NumberAtDevice(BaseBackend):
    """Only at an enrolled device: a number of few digits is worth nothing anywhere else."""

    def authenticate(
        self,
        request: HttpRequest | None,
        username: str | None = None,
        number: str | None = None,
        **kwargs: Any,
    ) -> User | None:
        if request is None or not number or device_of(request) is None:
            return None
        known = PersonalNumber.objects.filter(user__username=username, user__is_active=True)
        found = known.select_related("user").first()
        return found.user if found and check_password(number, found.digest) else None

    def get_user(self, user_id: int) -> User | None:
        return User.objects.filter(pk=user_id, is_active=True).first()
