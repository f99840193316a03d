"""What is foretold of a batch, in words and as a chance: for pages, the API, notices and mails alike."""

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

from curehouse.common.time import day_words, local_day
from curehouse.core.cure.lacking import lacking
from curehouse.core.cure.ready_by import Chance, ready_by
from curehouse.curing.models import Cure, Forecast
from curehouse.curing.models.verdicts import State
from curehouse.curing.obstacles import obstacles_of

# Of a batch that stands so it is still to come when it is ready.
TO_COME = frozenset({State.CURING, State.LOOK_AGAIN, State.NOT_WEIGHED})


def window_word(row: Cure) -> str:
    """Return what a batch (fetched with obstacles) is foretold to be: drying alone makes none ready."""
    return "ready" if row.last_check_passed and not obstacles_of(row) else "dry enough"


def at_sale_day(ready: Mapping[str, float], rule: Mapping[str, Any], *, age_days: int) -> float:
    """Return on which day since the cut bars may be sold: by then half of such batches are dry enough.

    Where that takes too long to tell it is the latest day; what is over gives way to today.
    """
    by = ready["p50"] if ready["p50"] < rule["horizon_days"] else rule["latest_day"]
    return float(max(by, age_days))


def ready_chance(forecast: Forecast, *, on: date, cut_on: date) -> Chance:
    """Return how likely a batch that was cut on a day is ready by another one."""
    rule = forecast.asked["rule"]
    days = (on - cut_on).days
    return ready_by(days, **forecast.foretold["ready_day"], min_days=rule["min_days"], horizon_days=rule["horizon_days"])


def ready_window(ready: Mapping[str, float], cut_on: date, *, horizon: float, today: date) -> str:
    """Return the days between which 8 of 10 such batches are dry enough: ``Tue 3 Feb – Sat 14 Feb``."""
    first, last = (cut_on + timedelta(days=round(ready[name])) for name in ("p10", "p90"))
    if ready["p10"] >= horizon:
        return f"not before {day_words(first, today=today)}"
    if ready["p90"] >= horizon:
        return f"from {day_words(first, today=today)}, if at all"
    if first == last:
        return day_words(first, today=today)
    return f"{day_words(first, today=today)} – {day_words(last, today=today)}"


def have_passed(ready: Mapping[str, float], cut_on: date, *, horizon: float, today: date) -> bool:
    """Return whether the last of those days is over."""
    return ready["p90"] < horizon and today > cut_on + timedelta(days=round(ready["p90"]))


def latest_has_passed(cut_on: date, *, latest_day: int, today: date) -> bool:
    """Return whether a batch's latest day is over: how likely it stays too soft by then is no forecast any more."""
    return today > cut_on + timedelta(days=latest_day)


def weighed_after(cure: Cure, cut_on: date, *, zone: str) -> date | None:
    """Return the day on which a batch was weighed last where that is after the days foretold, and counts still."""
    if cure.last_weighed_at is None or cure.state == State.NOT_WEIGHED:
        return None
    ready, horizon = cure.forecast.foretold["ready_day"], cure.forecast.asked["rule"]["horizon_days"]
    day = local_day(cure.last_weighed_at, zone)
    return day if have_passed(ready, cut_on, horizon=horizon, today=day) else None


def measured_words(cure: Cure, weighed_on: date, *, today: date) -> str:
    """Return what a batch that was weighed after the days foretold lacks to be dry enough."""
    when = "today" if weighed_on == today else day_words(weighed_on, today=today)
    lacks = lacking(cure.assessment.reasons) if cure.assessment else ""
    return f"Weighed {when}, this one is not called dry enough yet. {lacks}".rstrip()


def ready_meaning(cure: Cure, cut_on: date, *, zone: str, today: date) -> str:
    """Return what the window of a batch (its forecast and verdict at hand) means."""
    ready, horizon = cure.forecast.foretold["ready_day"], cure.forecast.asked["rule"]["horizon_days"]
    weeks = round(horizon / 7)
    if ready["p10"] >= horizon:
        return f"Of 10 such batches hardly one is dry enough within {weeks} weeks."
    if ready["p50"] >= horizon:
        return f"Half of such batches are not dry enough within {weeks} weeks."
    if have_passed(ready, cut_on, horizon=horizon, today=today):
        weighed_on, by_now = weighed_after(cure, cut_on, zone=zone), "9 of 10 such batches are dry enough by now"
        if weighed_on is None:
            return f"{by_now}: weigh it, and you know."
        return f"{by_now}. {measured_words(cure, weighed_on, today=today)}"
    middle = cut_on + timedelta(days=round(ready["p50"]))
    if ready["p90"] >= horizon:
        return f"Half of such batches are dry enough by {day_words(middle, today=today)}, some not within {weeks} weeks."
    if ready["p10"] == ready["p90"]:
        return f"8 of 10 such batches are dry enough on that day, which is day\u00a0{round(ready['p50'])}."
    return f"8 of 10 such batches are dry enough between those days, half by {day_words(middle, today=today)}."


def latest_words(latest_day: int) -> str:
    """Return what is said once the latest day of a batch is over that was likely to stay too soft."""
    return f"Its latest day, day\u00a0{latest_day}, has passed: weigh it, and you know whether it stayed too soft."


def soft_words(probability: float, *, latest_day: int) -> str:
    """Return how many of ten such batches stay too soft."""
    in_ten = min(max(round(10 * probability), 1), 10)
    if in_ten == 10:
        return f"Such batches stay too soft: hardly one is dry enough by day\u00a0{latest_day}."
    return f"About {in_ten} of 10 such batches stay too soft: they are not dry enough by day\u00a0{latest_day}."
