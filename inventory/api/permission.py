"""Who may ask at all. Apart from the views, since REST framework reads it before them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rest_framework.permissions import BasePermission

from inventory.problems import NotThere
from inventory.roles import Act, Viewer

if TYPE_CHECKING:
    from rest_framework.request import Request
    from rest_framework.views import APIView


class IsForThem(BasePermission):
    """People who may do such a thing at some place at all; to others it is not there."""

    def has_permission(self, request: Request, view: APIView) -> bool:
        if not isinstance(request.auth, Viewer):
            return False
        if not request.auth.may(getattr(view, "act", Act.SEE)):
            raise NotThere
        return True
