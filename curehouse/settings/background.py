"""Celery: Redis when REDIS_URL is set, files in the data folder otherwise.

The database is the truth and a task only a nudge, so the embedded transport may lose the message
in flight when it is killed: the next tick finds what is due.
"""

from curehouse.jobs.schedule import beat_schedule
from curehouse.settings import env
from curehouse.settings.addresses import check_queue
from curehouse.settings.paths import data_file

REDIS_URL = env.text("REDIS_URL")

if REDIS_URL:
    check_queue(REDIS_URL)
    CELERY_BROKER_URL = REDIS_URL
    # The defaults bring work lost by a killed worker back only after an hour.
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "visibility_timeout": 300,
        "unacked_restore_interval": 5,
        "unacked_restore_throttle": 1,
    }
else:
    _queue = data_file("queue")
    _control = data_file("queue-control")
    CELERY_BROKER_URL = "filesystem://"
    CELERY_BROKER_TRANSPORT = "curehouse.jobs.queue_files:Transport"
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "data_folder_in": str(_queue),
        "data_folder_out": str(_queue),
        "control_folder": str(_control),
        "store_processed": False,
        # Looked into five times a second, a few messages a look: kombu's own once would hand the
        # worker two tasks a second. Idle it costs a tenth of a per cent of a core.
        "polling_interval": 0.2,
    }

CELERY_RESULT_BACKEND = None
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_SERIALIZER = "json"
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
# No time limits: the workers are threads, and a thread cannot be ended from outside.
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_WORKER_HIJACK_ROOT_LOGGER = False
CELERY_TIMEZONE = "UTC"
# How often the tick looks for what is due; tests of the running house shorten it.
TICK_SECONDS = env.integer("CUREHOUSE_TICK_SECONDS", 30, least=1, most=3600)
CELERY_BEAT_SCHEDULE = beat_schedule(TICK_SECONDS)
# A nudge must never hold up a request: without a broker it gives up at once and the tick takes over.
CELERY_BROKER_CONNECTION_TIMEOUT = 2
CELERY_TASK_PUBLISH_RETRY = False
