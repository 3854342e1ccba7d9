"""Addresses of purchasing."""

from __future__ import annotations

from django.urls import path

from purchasing.web import (
    dock_urls,
    forecasts,
    items,
    log,
    lot_urls,
    not_ready,
    order_urls,
    par_tips,
    pars,
    replay,
    the_pass,
    workbook,
)

urlpatterns = [
    path("", the_pass.the_pass_page, name="the_pass"),
    path("all/", the_pass.all_pages, name="all_pages"),
    path("items/", items.items, name="items"),
    path("items/<str:code>/", items.item, name="item"),
    path("items/<str:code>/change/", items.item_change, name="item_change"),
    path("items/<str:code>/retire/", items.item_retire, name="item_retire"),
    path("add-item/", items.item_add, name="item_add"),
    path("pars/", pars.pars_list, name="pars_list"),
    path("pars/<str:code>/", pars.pars, name="pars"),
    path("pars/<str:code>/<str:item>/", pars.par, name="par"),
    path("par-tips/<str:code>/", par_tips.par_tips, name="par_tips"),
    path("par-tips/<str:code>/ask/", par_tips.par_tips_ask, name="par_tips_ask"),
    path("par-tips/<str:code>/<str:item>/adopt/", par_tips.par_tip_adopt, name="par_tip_adopt"),
    path("par-tips/<str:code>/<str:item>/back/", par_tips.par_put_back, name="par_put_back"),
    path("forecasts/", forecasts.forecasts, name="forecasts"),
    path("forecasts/ask/", forecasts.forecasts_ask, name="forecasts_ask"),
    path("not-ready/", not_ready.not_ready, name="not_ready"),
    path("log/", log.log, name="log"),
    path("replay/", replay.replay, name="replay"),
    path("replay/ask/", replay.replay_ask, name="replay_ask"),
    path("replay/<int:number>/stop/", replay.replay_stop, name="replay_stop"),
    path("workbook/", workbook.workbook, name="workbook"),
    path("workbook/load/", workbook.workbook_load, name="workbook_load"),
    path("workbook/all.xlsx", workbook.workbook_out, name="workbook_out"),
    path("workbook/empty.xlsx", workbook.workbook_empty, name="workbook_empty"),
    *order_urls.urlpatterns,
    *lot_urls.urlpatterns,
    *dock_urls.urlpatterns,
]
