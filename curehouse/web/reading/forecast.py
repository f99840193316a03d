"""What is foretold of a batch, in words, and as the curve draws it."""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from curehouse.common.time import day_words
from curehouse.common.units import GRAM, show_mass
from curehouse.curing.models import Cure, Forecast
from curehouse.curing.models.verdicts import State
from curehouse.web.drawing.curve import ForecastPoint, ReadyWindow
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.words import count
from curehouse.workshops.models import Workshop

# From here on a batch is said to be likely to stay too soft: of four such batches one does.
WORTH_SAYING = 0.25
_BEYOND_DAYS = 7.0
# Of a batch that stands so it is still to come when it is ready.
_TO_COME = {State.CURING, State.LOOK_AGAIN, State.NOT_WEIGHED}


@dataclass(frozen=True, slots=True)
class Outlook:
    """What is foretold of a batch: the days between which 8 of 10 such batches are ready, and sentences."""

    window: str
    sentences: tuple[str, ...]
    rests_on: str
    points: tuple[ForecastPoint, ...]
    ready_window: ReadyWindow | None


def read_outlook(cure: Cure | None, workshop: Workshop, calendar: Calendar) -> Outlook | None:
    """Return what is foretold of a batch in cure (its forecast and prior at hand), or None where nothing is."""
    if cure is None or cure.ended_at is not None or cure.forecast is None:
        return None
    forecast, cut_on = cure.forecast, calendar.day_of(cure.batch.cut_at)
    told, rule = forecast.foretold, forecast.asked["rule"]
    is_to_come = cure.state in _TO_COME
    ready = told["ready_day"]
    window = _window(ready, cut_on, horizon=rule["horizon_days"], today=calendar.today) if is_to_come else ""
    sentences = [*_meaning(ready, cut_on, rule, today=calendar.today)] if is_to_come else []
    sentences += _softness(told["soft_probability"], latest_day=rule["latest_day"]) if is_to_come else []
    sentences += _weights(forecast, rule["latest_day"], cut_on, workshop, today=calendar.today)
    last = float(max(rule["latest_day"], min(ready["p90"] + _BEYOND_DAYS, rule["horizon_days"])))
    return Outlook(
        window=window,
        sentences=tuple(sentences),
        rests_on=_rests_on(forecast),
        points=_points(forecast, since=_last_day(forecast), upto=last),
        ready_window=_drawn(ready, horizon=rule["horizon_days"]) if is_to_come else None,
    )


def _window(ready: Mapping[str, float], cut_on: date, *, horizon: float, today: date) -> str:
    """Return the ready window: ``3 Feb – 14 Feb``."""
    first, last = (cut_on + timedelta(days=round(ready[name])) for name in ("p10", "p90"))
    if ready["p10"] >= horizon:
        return f"not before {day_words(first, today=today)}"
    if ready["p90"] >= horizon:
        return f"from {day_words(first, today=today)}, if at all"
    if first == last:
        return day_words(first, today=today)
    return f"{day_words(first, today=today)} – {day_words(last, today=today)}"


def _meaning(ready: Mapping[str, float], cut_on: date, rule: Mapping[str, Any], *, today: date) -> list[str]:
    horizon = rule["horizon_days"]
    if ready["p10"] >= horizon:
        return [f"Of 10 such batches hardly one is dry enough within {round(horizon / 7)} weeks."]
    if ready["p50"] >= horizon:
        return [f"Half of such batches are not dry enough within {round(horizon / 7)} weeks."]
    middle = cut_on + timedelta(days=round(ready["p50"]))
    if ready["p90"] >= horizon:
        by = day_words(middle, today=today)
        return [f"Half of such batches are ready by {by}, some not within {round(horizon / 7)} weeks."]
    if ready["p10"] == ready["p90"]:
        return [f"8 of 10 such batches are ready on that day, which is day\u00a0{round(ready['p50'])}."]
    return [f"8 of 10 such batches are ready between those days, half by {day_words(middle, today=today)}."]


def _softness(probability: float, *, latest_day: int) -> list[str]:
    if probability < WORTH_SAYING:
        return []
    in_ten = min(max(round(10 * probability), 1), 10)
    return [
        f"About {in_ten} of 10 such batches stay too soft: they are not dry enough by day\u00a0{latest_day}."
        if in_ten < 10
        else f"Such batches stay too soft: hardly one is dry enough by day\u00a0{latest_day}."
    ]


def _weights(forecast: Forecast, latest_day: int, cut_on: date, workshop: Workshop, *, today: date) -> list[str]:
    at = forecast.asked["days"].index(float(latest_day))
    bar, water = forecast.foretold["new_bar"][at]["weight_g"], forecast.foretold["water_left_pct"][at]
    when = day_words(cut_on + timedelta(days=latest_day), today=today)
    # A forecast is no weighing: whole grams say what it knows.
    places = 0 if workshop.unit == GRAM else 1
    low, middle, high = (show_mass(bar[name], workshop.unit, decimals=places) for name in ("p10", "p50", "p90"))
    left = max(water["p50"], 0.0)
    return [
        f"A bar of it weighs about {middle} on {when}, 8 of 10 bars between {low} and {high}. "
        f"About {left:.0f}\u00a0% of its water is still in it then."
    ]


def _rests_on(forecast: Forecast) -> str:
    weighed = forecast.foretold["weighings"]
    weighings = "one weighing" if weighed == 1 else f"{weighed} weighings"
    cures = forecast.prior.cures if forecast.prior else 0
    usual = "what is usual of such bars: none was cured here yet"
    known = f"what {count(cures, 'cure')} of this workshop taught" if cures else usual
    return f"From its {weighings} and {known}."


def _last_day(forecast: Forecast) -> float:
    """Return the day of the newest weighing it rests on."""
    return max(float(bar["days"][-1]) for bar in forecast.record.content["bars"] if bar["days"])


def _points(forecast: Forecast, *, since: float, upto: float) -> tuple[ForecastPoint, ...]:
    """Return the mean of the sample bars on the days ahead, with the band around it; from the last weighing on."""
    days = [float(day) for day in forecast.asked["days"]]
    bars = list(forecast.foretold["weight_g"].values())

    def mean(name: str) -> list[float]:
        return [sum(bar[i][name] for bar in bars) / len(bars) for i in range(len(days))]

    low, middle, high = mean("p10"), mean("p50"), mean("p90")
    shown = sorted({since, upto, *(day for day in days if since < day < upto)})
    return tuple(ForecastPoint(day, _at(days, low, day), _at(days, middle, day), _at(days, high, day)) for day in shown)


def _at(days: Sequence[float], values: Sequence[float], day: float) -> float:
    """Return a value between the days that were asked for, by a straight line."""
    after = min(max(bisect_right(days, day), 1), len(days) - 1)
    share = min(max((day - days[after - 1]) / (days[after] - days[after - 1]), 0.0), 1.0)
    return values[after - 1] * (1 - share) + values[after] * share


def _drawn(ready: Mapping[str, float], *, horizon: float) -> ReadyWindow | None:
    if ready["p10"] >= horizon:
        return None
    return ReadyWindow(ready["p10"], ready["p90"], "ready, 8 in 10")
