"""Addresses of purchasing."""

from __future__ import annotations

from django.urls import path

from purchasing.web import items, pars, the_pass

urlpatterns = [
    path("", the_pass.the_pass_page, name="the_pass"),
    path("all/", the_pass.all_pages, name="all_pages"),
    path("items/", items.items, name="items"),
    path("items/<str:code>/", items.item, name="item"),
    path("items/<str:code>/change/", items.item_change, name="item_change"),
    path("add-item/", items.item_add, name="item_add"),
    path("pars/", pars.pars_list, name="pars_list"),
    path("pars/<str:code>/", pars.pars, name="pars"),
    path("pars/<str:code>/<str:item>/", pars.par, name="par"),
]
