"""The site map."""

from __future__ import annotations

from django.urls import include, path

handler500 = "config.api.mistake_answer"

urlpatterns = [
    path("api/v1/", include("config.api_urls")),
    path("", include("inventory.urls")),
    path("", include("purchasing.urls")),
]
