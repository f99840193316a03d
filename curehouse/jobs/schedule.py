"""What runs by the clock. Pure: settings read it."""

from datetime import UTC, datetime, timedelta
from time import monotonic
from typing import Any

from celery.schedules import schedule

_BEGAN = datetime.now(UTC)
_BEGAN_MONOTONIC_SECONDS = monotonic()


def steady_now() -> datetime:
    """Return a moment that goes on evenly from the wall clock's at the start.

    Beat only takes differences of it. By the wall clock itself, a clock set back by an hour would
    keep the tick away for an hour.
    """
    return _BEGAN + timedelta(seconds=monotonic() - _BEGAN_MONOTONIC_SECONDS)


def beat_schedule(tick_seconds: int) -> dict[str, dict[str, Any]]:
    """Return Celery's beat schedule; every entry expires before its next run."""
    return {
        # Everything else is found by the tick: what is due is a row, not a message.
        "tick": {
            "task": "jobs.tick",
            "schedule": schedule(tick_seconds, nowfun=steady_now),
            "options": {"expires": tick_seconds * 0.9},
        },
    }
