from django.apps import AppConfig

# Loading the app here makes it Celery's current app in every process, the web process included;
# with an empty curehouse/__init__.py nothing else would, and a nudge would go to amqp://localhost.
from curehouse.celery import app as celery_app


class JobsConfig(AppConfig):
    name = "curehouse.jobs"
    label = "jobs"
    celery_app = celery_app
