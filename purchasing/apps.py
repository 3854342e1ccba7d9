"""What is bought, owed and earned."""

from __future__ import annotations

from django.apps import AppConfig


class PurchasingApp(AppConfig):
    name = "purchasing"
    verbose_name = "Purchasing"
