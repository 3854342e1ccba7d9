"""Stock, lots, stops and prep."""

from __future__ import annotations

from django.apps import AppConfig


class InventoryApp(AppConfig):
    name = "inventory"
    verbose_name = "Kitchen"
