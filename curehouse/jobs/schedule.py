"""What runs by the clock. Pure: settings read it."""

from typing import Any


def beat_schedule(tick_seconds: int) -> dict[str, dict[str, Any]]:
    """Return Celery's beat schedule; every entry expires before its next run."""
    return {
        # Everything else is found by the tick: what is due is a row, not a message.
        "tick": {
            "task": "jobs.tick",
            "schedule": float(tick_seconds),
            "options": {"expires": tick_seconds * 0.9},
        },
    }
