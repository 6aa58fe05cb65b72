"""Work in the background: the Celery application and its clock."""

import os

from celery import Celery
from django.conf import settings

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "refuge.settings")

app = Celery("clearmere")
app.conf.update(
    broker_url=settings.CELERY_BROKER_URL,
    broker_connection_retry_on_startup=True,
    broker_connection_max_retries=None,
    # Work that a killed worker held comes back after this many seconds; no task of ours runs longer.
    broker_transport_options={"visibility_timeout": 600},
    accept_content=["json"],
    task_serializer="json",
    task_ignore_result=True,
    task_acks_late=True,
    task_reject_on_worker_lost=True,
    task_time_limit=540,
    worker_cancel_long_running_tasks_on_connection_loss=True,  # its broker gives the task to somebody else
    # A page that asks for work must not hang when the broker is away: it fails within a second.
    task_publish_retry_policy={"max_retries": 2, "interval_start": 0, "interval_step": 0.2},
    worker_prefetch_multiplier=1,
    worker_concurrency=1,
    worker_hijack_root_logger=False,
    timezone="UTC",
    enable_utc=True,
    beat_sync_every=1,  # its file shows that it lives
    beat_schedule_filename=str(settings.DATA_DIR / "beat" / "schedule"),
    beat_schedule={
        "tick": {
            "task": "refuge.rounds.tasks.tick",
            "schedule": 300.0,
            "options": {"expires": 290},  # a worker that was away does one tick, not a backlog of them
        },
        "send waiting letters": {
            "task": "refuge.rounds.tasks.send_waiting",
            "schedule": 60.0,
            "options": {"expires": 55},
        },
    },
)
app.autodiscover_tasks()
