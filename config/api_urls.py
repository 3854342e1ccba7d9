"""Addresses of version 1 of the API; whatever else is asked for is a 404 as a document."""

from __future__ import annotations

from django.urls import include, path, re_path
from drf_spectacular.renderers import OpenApiJsonRenderer2
from drf_spectacular.views import SpectacularAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.api.base import Counted
from inventory.problems import NotThere


class Schema(Counted, SpectacularAPIView):
    """The OpenAPI document of this version; no page of anybody else's around it."""

    renderer_classes = [OpenApiJsonRenderer2]


class Elsewhere(Counted):
    """No such address."""

    schema = None

    def initial(self, request: Request, *args: object, **kwargs: object) -> None:
        super().initial(request, *args, **kwargs)
        raise NotThere

    def get(self, request: Request) -> Response:
        raise NotThere


urlpatterns = [
    path("", include("inventory.api.urls")),
    path("", include("purchasing.api.urls")),
    path("schema/", Schema.as_view(), name="api_schema"),
    re_path("", Elsewhere.as_view()),
]
