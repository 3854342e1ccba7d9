"""The project as an app: it carries the start-up checks."""

from __future__ import annotations

from django.apps import AppConfig


class ConfigApp(AppConfig):
    name = "config"

    def ready(self) -> None:
        from config import checks  # noqa: F401  registers the checks
