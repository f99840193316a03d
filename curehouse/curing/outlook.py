"""What is foretold of a batch, in words and as a chance: for pages, the API, notices and mails alike."""

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

from curehouse.common.time import day_words
from curehouse.core.cure.ready_by import Chance, ready_by
from curehouse.curing.models import Forecast
from curehouse.curing.models.verdicts import State

# Of a batch that stands so it is still to come when it is ready.
TO_COME = frozenset({State.CURING, State.LOOK_AGAIN, State.NOT_WEIGHED})


def ready_chance(forecast: Forecast, *, on: date, cut_on: date) -> Chance:
    """Return how likely a batch that was cut on a day is ready by another one."""
    rule = forecast.asked["rule"]
    days = (on - cut_on).days
    return ready_by(days, **forecast.foretold["ready_day"], min_days=rule["min_days"], horizon_days=rule["horizon_days"])


def ready_window(ready: Mapping[str, float], cut_on: date, *, horizon: float, today: date) -> str:
    """Return the days between which 8 of 10 such batches are ready: ``Tue 3 Feb – Sat 14 Feb``."""
    first, last = (cut_on + timedelta(days=round(ready[name])) for name in ("p10", "p90"))
    if ready["p10"] >= horizon:
        return f"not before {day_words(first, today=today)}"
    if ready["p90"] >= horizon:
        return f"from {day_words(first, today=today)}, if at all"
    if first == last:
        return day_words(first, today=today)
    return f"{day_words(first, today=today)} – {day_words(last, today=today)}"


def ready_meaning(ready: Mapping[str, float], cut_on: date, rule: Mapping[str, Any], *, today: date) -> str:
    """Return what the window means."""
    horizon = rule["horizon_days"]
    if ready["p10"] >= horizon:
        return f"Of 10 such batches hardly one is dry enough within {round(horizon / 7)} weeks."
    if ready["p50"] >= horizon:
        return f"Half of such batches are not dry enough within {round(horizon / 7)} weeks."
    middle = cut_on + timedelta(days=round(ready["p50"]))
    if ready["p90"] >= horizon:
        by = day_words(middle, today=today)
        return f"Half of such batches are ready by {by}, some not within {round(horizon / 7)} weeks."
    if ready["p10"] == ready["p90"]:
        return f"8 of 10 such batches are ready on that day, which is day\u00a0{round(ready['p50'])}."
    return f"8 of 10 such batches are ready between those days, half by {day_words(middle, today=today)}."


def soft_words(probability: float, *, latest_day: int) -> str:
    """Return how many of ten such batches stay too soft."""
    in_ten = min(max(round(10 * probability), 1), 10)
    if in_ten == 10:
        return f"Such batches stay too soft: hardly one is dry enough by day\u00a0{latest_day}."
    return f"About {in_ten} of 10 such batches stay too soft: they are not dry enough by day\u00a0{latest_day}."
