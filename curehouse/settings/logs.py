"""What the house writes down of itself: one line an event, and the whole of every fault.

`manage.py start` leads each process's lines into a file of the data folder's logs; containers
read them from standard error.
"""

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "line": {
            "()": "curehouse.common.log_lines.LineFormatter",
            "format": "[{asctime}] {levelname} {name}: {message}",
            "style": "{",
        }
    },
    "handlers": {"lines": {"class": "logging.StreamHandler", "formatter": "line"}},
    "loggers": {
        "curehouse": {"handlers": ["lines"], "level": "INFO", "propagate": False},
        "api": {"handlers": ["lines"], "level": "INFO", "propagate": False},
        # How much the worker tells is said where it is started; its faults may hold what somebody brought in.
        "celery": {"handlers": ["lines"], "propagate": False},
        # Django's own default mails faults to administrators, of whom a house has none.
        "django": {"handlers": ["lines"], "level": "WARNING", "propagate": False},
        # Refusals of the door (404, a wrong Host) are no faults of the house.
        "django.request": {"handlers": ["lines"], "level": "ERROR", "propagate": False},
        "django.security": {"handlers": ["lines"], "level": "CRITICAL", "propagate": False},
    },
}
