"""Addresses of purchasing's part of the API."""

from __future__ import annotations

from django.urls import path

import inventory.api.codes  # noqa: F401  registers how things are named
from purchasing.api import (
    deliveries,
    item_acts,
    not_ready,
    order_acts,
    order_lines,
    orders,
    pars,
    receiving,
    runs,
    suppliers,
    traces,
    use_by,
)

urlpatterns = [
    path("suppliers/", suppliers.Suppliers.as_view()),
    path("suppliers/<code:code>/", suppliers.OneSupplier.as_view()),
    path("offers/", suppliers.Offers.as_view()),
    path("orders/", orders.Orders.as_view()),
    path("orders/anyway/", order_lines.OrderAnyway.as_view()),
    path("orders/approve-unflagged/", order_acts.ApproveUnflagged.as_view()),
    path("orders/<number:number>/", orders.OneOrder.as_view()),
    path("orders/<number:number>/approve/", order_acts.Approve.as_view()),
    path("orders/<number:number>/undo/", order_acts.Undo.as_view()),
    path("orders/<number:number>/lines/", order_lines.ChangeLines.as_view()),
    path("orders/<number:number>/add/", order_lines.AddLine.as_view()),
    path("orders/<number:number>/other-offer/", order_lines.OtherOffer.as_view()),
    path("orders/<number:number>/skip/", order_acts.Skip.as_view()),
    path("orders/<number:number>/take-up/", order_acts.TakeUp.as_view()),
    path("orders/<number:number>/send/", order_acts.Send.as_view()),
    path("orders/<number:number>/mark-sent/", order_acts.MarkSent.as_view()),
    path("orders/<number:number>/answers/", order_acts.NoteAnswers.as_view()),
    path("orders/<number:number>/confirm/", order_acts.ConfirmAll.as_view()),
    path("orders/<number:number>/cancel/", order_acts.Cancel.as_view()),
    path("orders/<number:number>/give-up/", order_acts.GiveUp.as_view()),
    path("deliveries/<number:number>/receive/", receiving.Receive.as_view()),
    path("bought/", receiving.Buy.as_view()),
    path("receipts/<whole:receipt>/undo/", receiving.UndoReceipt.as_view()),
    path("deliveries/", deliveries.Deliveries.as_view()),
    path("receipts/", deliveries.Receipts.as_view()),
    path("pars/", pars.Pars.as_view()),
    path("pars/<code:code>/<code:item>/", pars.PairOfPars.as_view()),
    path("pars/<code:code>/<code:item>/set/", pars.SetPars.as_view()),
    path("add-item/", item_acts.AddItem.as_view()),
    path("items/<code:code>/change/", item_acts.ChangeItem.as_view()),
    path("lots/<strip:strip>/trace/", traces.Trace.as_view()),
    path("not-ready/", not_ready.NotReady.as_view()),
    path("use-by/look/", use_by.AskForLook.as_view()),
    path("runs/", runs.Runs.as_view()),
    path("runs/<whole:run>/lines/", runs.RunLines.as_view()),
    path("use-by/", use_by.UseByBoard.as_view()),
]
