"""Addresses of purchasing."""

from __future__ import annotations

from django.urls import path

from purchasing.web.plan import plan

urlpatterns = [path("", plan, name="plan")]
