"""Addresses of the kitchen's part of the API."""

from __future__ import annotations

from django.urls import path

import inventory.api.codes  # noqa: F401  registers how things are named
from inventory.api import events, holds, items, locations, lot_acts, lots, people, transfers

urlpatterns = [
    path("locations/", locations.Locations.as_view()),
    path("locations/<code:code>/", locations.OneLocation.as_view()),
    path("items/", items.Items.as_view()),
    path("items/<code:code>/", items.OneItem.as_view()),
    path("items/<code:code>/allergens/", items.Allergens.as_view()),
    path("people/", people.People.as_view()),
    path("people/invite/", people.Invite.as_view()),
    path("people/<code:username>/parts/give/", people.GivePart.as_view()),
    path("people/<code:username>/parts/change/", people.ChangePart.as_view()),
    path("people/<code:username>/parts/end/", people.EndPart.as_view()),
    path("lots/", lots.Lots.as_view()),
    path("lots/<strip:strip>/", lots.OneLot.as_view()),
    path("lots/<strip:strip>/hold/", lot_acts.HoldLot.as_view()),
    path("lots/<strip:strip>/release/", lot_acts.ReleaseLot.as_view()),
    path("lots/<strip:strip>/take-out/", lot_acts.TakeOut.as_view()),
    path("lots/<strip:strip>/change/", lot_acts.ChangeLot.as_view()),
    path("lots/<strip:strip>/move/", lot_acts.MoveLot.as_view()),
    path("locations/<code:code>/areas/<code:area>/hold/", lot_acts.HoldStorage.as_view()),
    path("on-hand/", lots.OnHandNow.as_view()),
    path("holds/", holds.Holds.as_view()),
    path("transfers/", transfers.Transfers.as_view()),
    path("transfers/<number:number>/", transfers.OneTransfer.as_view()),
    path("transfers/<number:number>/arrive/", transfers.Arrive.as_view()),
    path("events/", events.Events.as_view()),
]
