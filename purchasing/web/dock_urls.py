"""Addresses of the dock: deliveries, receipts, the counter, labels."""

from __future__ import annotations

from django.urls import path

from purchasing.web import bought, deliveries, dock_signal, labels, receipts

urlpatterns = [
    path("dock-worker.js", dock_signal.worker, name="dock_worker"),
    path("dock-token/", dock_signal.token, name="dock_token"),
    path("deliveries/", deliveries.deliveries_page, name="deliveries"),
    path("deliveries/<str:number>/", deliveries.delivery, name="delivery"),
    path("deliveries/<str:number>/read/", deliveries.delivery_read, name="delivery_read"),
    path("receipts/<int:pk>/", receipts.receipt, name="receipt"),
    path("receipts/<int:pk>/undo/", receipts.receipt_undo, name="receipt_undo"),
    path("receipts/<int:pk>/photos/", receipts.receipt_photos, name="receipt_photos"),
    path("receipts/photos/<int:pk>/", receipts.photo, name="photo"),
    path("bought/", bought.bought, name="bought"),
    path("labels/", labels.labels_page, name="labels"),
]
