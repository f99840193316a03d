"""The Celery application: its tasks and its schedule are doors, kept in curehouse.jobs."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "curehouse.settings")

app = Celery("curehouse")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["curehouse.jobs"])
