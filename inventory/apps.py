"""Stock, lots, stops and prep."""

from __future__ import annotations

from django.apps import AppConfig
from django.db.models.signals import post_migrate

from inventory.append_only import install_after_migrate


class InventoryApp(AppConfig):
    name = "inventory"
    verbose_name = "Kitchen"

    def ready(self) -> None:
        # Sent after every migrate, whichever app it was for.
        post_migrate.connect(install_after_migrate, sender=self)
