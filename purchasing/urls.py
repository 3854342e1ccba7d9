"""Addresses of purchasing."""

from __future__ import annotations

from django.urls import path

from purchasing.web import the_pass

urlpatterns = [
    path("", the_pass.the_pass_page, name="the_pass"),
    path("all/", the_pass.all_pages, name="all_pages"),
]
