"""Addresses of inventory."""

from __future__ import annotations

from django.urls import path

from inventory.web import look, people, sign_in
from inventory.web.welcome import Welcome

urlpatterns = [
    path("sign-in/", sign_in.sign_in, name="sign_in"),
    path("sign-in/as/<str:username>/", sign_in.sign_in_as, name="sign_in_as"),
    path("sign-out/", sign_in.sign_out, name="sign_out"),
    path("this-tablet/<str:token>/", sign_in.enrol, name="enrol"),
    path("look/", look.look, name="look"),
    path("welcome/<str:uidb64>/<str:token>/", Welcome.as_view(), name="welcome"),
    path("people/", people.people_list, name="people"),
    path("invite/", people.invite, name="invite"),
    path("people/<str:username>/", people.person, name="person"),
    path("people/<str:username>/part/", people.part_give, name="part_give"),
    path("people/<str:username>/part/<int:part>/", people.part_change, name="part_change"),
    path("people/<str:username>/part/<int:part>/end/", people.part_end, name="part_end"),
    path("people/<str:username>/address/", people.person_address, name="person_address"),
    path("people/<str:username>/number/", people.person_number, name="person_number"),
    path("devices/", people.device_add, name="device_add"),
    path("tokens/", people.token_make, name="token_make"),
    path("tokens/<int:token>/end/", people.token_end, name="token_end"),
    path("devices/retire/", people.device_retire, name="device_retire"),
]
