"""Addresses of inventory."""

from __future__ import annotations

from django.urls import path

from inventory.web import look, sign_in

urlpatterns = [
    path("sign-in/", sign_in.sign_in, name="sign_in"),
    path("sign-in/as/<str:username>/", sign_in.sign_in_as, name="sign_in_as"),
    path("sign-out/", sign_in.sign_out, name="sign_out"),
    path("this-tablet/<str:token>/", sign_in.enrol, name="enrol"),
    path("look/", look.look, name="look"),
]
