"""The Celery app and its single beat entry.

Messages carry no facts: one tick a minute asks the database what is due and not done, so a
lost or doubled message changes nothing. Without REDIS_URL messages lie in a folder.
"""

from __future__ import annotations

import os
from typing import Any

from celery import Celery
from django.conf import settings

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

TICK_SECONDS = float(os.environ.get("TICK_SECONDS", "60"))


def _broker() -> dict[str, Any]:
    if settings.REDIS_URL:
        return {"broker_url": settings.REDIS_URL}
    folder = settings.DATA_DIR / "queue"
    control = folder / "control"
    control.mkdir(parents=True, exist_ok=True)
    return {
        "broker_url": "filesystem://",
        "broker_transport_options": {
            "data_folder_in": str(folder),
            "data_folder_out": str(folder),
            "control_folder": str(control),
            "polling_interval": 0.5,
        },
    }


# beat dies in silence when the folder of its schedule is missing
settings.DATA_DIR.mkdir(parents=True, exist_ok=True)

app = Celery("forepar")
app.conf.update(
    **_broker(),
    timezone="UTC",
    task_ignore_result=True,
    task_acks_late=True,
    task_reject_on_worker_lost=True,
    broker_connection_retry_on_startup=True,
    worker_hijack_root_logger=False,
    beat_schedule_filename=str(settings.DATA_DIR / "beat-schedule"),
    beat_schedule={
        # it expires before its successor is due: a stopped worker wakes to no backlog
        "tick": {
            "task": "purchasing.tasks.tick",
            "schedule": TICK_SECONDS,
            "options": {"expires": TICK_SECONDS * 0.9},
        }
    },
)
app.autodiscover_tasks()
