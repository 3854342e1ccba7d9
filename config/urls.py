"""The site map."""

from __future__ import annotations

from django.urls import include, path

urlpatterns = [
    path("", include("inventory.urls")),
    path("", include("purchasing.urls")),
]
