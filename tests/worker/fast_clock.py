"""The site's Celery application with a clock that ticks every second instead of every few minutes."""

from refuge.celery import app

for entry in app.conf.beat_schedule.values():
    entry["schedule"] = 1.0
