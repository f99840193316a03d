"""What is foretold of a batch, in words, and as the curve draws it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from curehouse.common.time import day_words
from curehouse.common.units import GRAM, show_mass
from curehouse.core.cure.foretold_weights import between
from curehouse.curing.models import Cure, Forecast
from curehouse.curing.models.verdicts import State
from curehouse.curing.outlook import TO_COME, ready_meaning, ready_window, soft_words
from curehouse.web.drawing.curve import ForecastPoint, ReadyWindow
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.words import count
from curehouse.workshops.models import Workshop

# From here on a batch is said to be likely to stay too soft: of four such batches one does.
WORTH_SAYING = 0.25
_BEYOND_DAYS = 7.0


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
    is_to_come = cure.state in TO_COME
    ready = told["ready_day"]
    window = ready_window(ready, cut_on, horizon=rule["horizon_days"], today=calendar.today) if is_to_come else ""
    sentences = [ready_meaning(ready, cut_on, rule, today=calendar.today)] if is_to_come else []
    if is_to_come and told["soft_probability"] >= WORTH_SAYING:
        sentences.append(soft_words(told["soft_probability"], latest_day=rule["latest_day"]))
    sentences += _weights(forecast, rule["latest_day"], cut_on, workshop, today=calendar.today)
    last = float(max(rule["latest_day"], min(ready["p90"] + _BEYOND_DAYS, rule["horizon_days"])))
    return Outlook(
        window=window,
        sentences=tuple(sentences),
        rests_on=_rests_on(forecast),
        points=_points(forecast, since=_last_day(forecast), upto=last),
        ready_window=_drawn(ready, horizon=rule["horizon_days"]) if is_to_come else None,
    )


@dataclass(frozen=True, slots=True)
class ShortWindow:
    """A ready window where there is little room, and as it is said."""

    note: str
    said: str


def short_window(cure: Cure, calendar: Calendar) -> ShortWindow | None:
    """Return the ready window of a batch that cures (its forecast at hand), or None where none is foretold."""
    if cure.forecast is None or cure.state != State.CURING:
        return None
    ready, horizon = cure.forecast.foretold["ready_day"], cure.forecast.asked["rule"]["horizon_days"]
    cut_on = calendar.day_of(cure.batch.cut_at)
    first, last = (cut_on + timedelta(days=round(ready[name])) for name in ("p10", "p90"))
    if ready["p90"] >= horizon:
        return None
    month = f"{first:%b}"
    if (first.year, first.month) == (last.year, last.month):
        days = f"{first.day}" if first == last else f"{first.day}–{last.day}"
        said = f"ready on {first.day} {month}" if first == last else f"ready from {first.day} to {last.day} {month}"
        return ShortWindow(f"{days} {month}", f"{said}, 8 in 10")
    return ShortWindow(
        f"{first.day} {month}–{last.day} {last:%b}", f"ready from {first.day} {month} to {last.day} {last:%b}, 8 in 10"
    )  # fmt: skip


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
    return tuple(
        ForecastPoint(day, between(days, low, day), between(days, middle, day), between(days, high, day)) for day in shown
    )


def _drawn(ready: Mapping[str, float], *, horizon: float) -> ReadyWindow | None:
    if ready["p10"] >= horizon:
        return None
    return ReadyWindow(ready["p10"], ready["p90"], "ready, 8 in 10")
