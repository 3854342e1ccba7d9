"""Addresses of purchasing's part of the API."""

from __future__ import annotations

from django.urls import path

import inventory.api.codes  # noqa: F401  registers how things are named
from purchasing.api import deliveries, orders, pars, runs, suppliers, use_by

urlpatterns = [
    path("suppliers/", suppliers.Suppliers.as_view()),
    path("suppliers/<code:code>/", suppliers.OneSupplier.as_view()),
    path("offers/", suppliers.Offers.as_view()),
    path("orders/", orders.Orders.as_view()),
    path("orders/<number:number>/", orders.OneOrder.as_view()),
    path("deliveries/", deliveries.Deliveries.as_view()),
    path("receipts/", deliveries.Receipts.as_view()),
    path("pars/", pars.Pars.as_view()),
    path("runs/", runs.Runs.as_view()),
    path("runs/<whole:run>/lines/", runs.RunLines.as_view()),
    path("use-by/", use_by.UseByBoard.as_view()),
]
