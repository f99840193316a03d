"""What is foretold of a batch, in words, and as the curve draws it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from curehouse.common.time import day_words
from curehouse.common.units import GRAM, show_mass
from curehouse.core.cure.foretold_weights import bar_on, between
from curehouse.curing.early import early_words
from curehouse.curing.models import Cure, Forecast
from curehouse.curing.models.verdicts import State
from curehouse.curing.obstacles import obstacles_of
from curehouse.curing.outlook import (
    TO_COME,
    at_sale_day,
    have_passed,
    latest_has_passed,
    latest_words,
    ready_meaning,
    ready_window,
    soft_words,
    weighed_after,
    window_word,
)
from curehouse.web.drawing.curve import ForecastPoint, ReadyWindow
from curehouse.web.drawing.curve_words import figure
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.words import count
from curehouse.workshops.models import Workshop

# From here on a batch is said to be likely to stay too soft: of four such batches one does.
WORTH_SAYING = 0.25
_BEYOND_DAYS = 7.0


@dataclass(frozen=True, slots=True)
class ForetoldLine:
    """A day to come as the table beneath the curve says it, in the workshop's unit."""

    on: str
    day: str
    expected: str
    between: str


@dataclass(frozen=True, slots=True)
class Outlook:
    """What is foretold of a batch: what is in the way of its bars, the days between which 8 of 10 are dry, and sentences.

    ``early`` is why it may stay too soft and what to do while there is time; nothing where that is unlikely.
    """

    in_the_way: tuple[str, ...]
    word: str
    window: str
    sentences: tuple[str, ...]
    early: tuple[str, ...]
    rests_on: str
    points: tuple[ForecastPoint, ...]
    lines: tuple[ForetoldLine, ...]
    ready_window: ReadyWindow | None


def read_outlook(cure: Cure | None, workshop: Workshop, calendar: Calendar) -> Outlook | None:
    """Return what is foretold of a batch in cure (its forecast, prior and obstacles at hand), or None where nothing is.

    Of one that may stay too soft it takes nine queries and more, of others none.
    """
    if cure is None or cure.ended_at is not None or cure.forecast is None:
        return None
    forecast, cut_on = cure.forecast, calendar.day_of(cure.batch.cut_at)
    told, rule = forecast.foretold, forecast.asked["rule"]
    ready, is_to_come = told["ready_day"], cure.state in TO_COME
    # Days that a weighing has outlived are nothing to wait for.
    has_window = is_to_come and weighed_after(cure, cut_on, zone=calendar.zone) is None
    sentences = [ready_meaning(cure, cut_on, zone=calendar.zone, today=calendar.today)] if is_to_come else []
    obstacles, word = obstacles_of(cure), window_word(cure)
    if has_window and cure.last_check_passed is None and not obstacles:
        sentences.append("Ready then once its safety check is passed.")
    early: tuple[str, ...] = ()
    if is_to_come and told["soft_probability"] >= WORTH_SAYING:
        is_over = latest_has_passed(cut_on, latest_day=rule["latest_day"], today=calendar.today)
        sentences.append(_soft_words(told["soft_probability"], rule["latest_day"], is_over=is_over))
        early = () if is_over else early_words(cure, workshop)
    sentences.append(_bar_words(forecast, cut_on, workshop, today=calendar.today))
    until = float(max(rule["latest_day"], min(ready["p90"] + _BEYOND_DAYS, rule["horizon_days"])))
    points = _points(forecast, since=_last_day(forecast), upto=until)
    return Outlook(
        in_the_way=tuple(one.says for one in obstacles),
        word=word,
        window=ready_window(ready, cut_on, horizon=rule["horizon_days"], today=calendar.today) if has_window else "",
        sentences=tuple(sentences),
        early=early,
        rests_on=_rests_on(forecast),
        points=points,
        lines=tuple(_line(point, cut_on, workshop.unit, today=calendar.today) for point in points),
        ready_window=_drawn(ready, word, horizon=rule["horizon_days"]) if has_window else None,
    )


def _soft_words(probability: float, latest_day: int, *, is_over: bool) -> str:
    return latest_words(latest_day) if is_over else soft_words(probability, latest_day=latest_day)


@dataclass(frozen=True, slots=True)
class ShortWindow:
    """The days of a window where there is little room, and the window as it is said."""

    note: str
    said: str
    is_over: bool = False


def short_window(cure: Cure, calendar: Calendar) -> ShortWindow | None:
    """Return the window of a batch that cures (its forecast and obstacles at hand), or None.

    None is foretold, or its days are over and a weighing since says more.
    """
    if cure.forecast is None or cure.state != State.CURING:
        return None
    ready, horizon = cure.forecast.foretold["ready_day"], cure.forecast.asked["rule"]["horizon_days"]
    cut_on, word = calendar.day_of(cure.batch.cut_at), window_word(cure)
    first, last = (cut_on + timedelta(days=round(ready[name])) for name in ("p10", "p90"))
    if ready["p90"] >= horizon:
        return None
    if weighed_after(cure, cut_on, zone=calendar.zone) is not None:
        return None
    if have_passed(ready, cut_on, horizon=horizon, today=calendar.today):
        return ShortWindow(f"by {last.day} {last:%b}", f"likely {word} since {last.day} {last:%b}: weigh it", is_over=True)
    month = f"{first:%b}"
    if (first.year, first.month) == (last.year, last.month):
        days = f"{first.day}" if first == last else f"{first.day}–{last.day}"
        said = f"{word} on {first.day} {month}" if first == last else f"{word} from {first.day} to {last.day} {month}"
        return ShortWindow(f"{days} {month}", f"{said}, 8 in 10")
    days = f"{first.day} {month}–{last.day} {last:%b}"
    return ShortWindow(days, f"{word} from {first.day} {month} to {last.day} {last:%b}, 8 in 10")


def _bar_words(forecast: Forecast, cut_on: date, workshop: Workshop, *, today: date) -> str:
    """Return what a bar weighs when it may be sold."""
    age, rule = (today - cut_on).days, forecast.asked["rule"]
    bar = bar_on(forecast.asked["days"], forecast.foretold, at_sale_day(forecast.foretold["ready_day"], rule, age_days=age))
    on = cut_on + timedelta(days=round(bar.day))
    when = "Today" if on == today else f"On {day_words(on, today=today)}"
    left = max(bar.water_left_pct["p50"], 0.0)
    return f"{when} a bar {range_words(bar.weight_g, workshop.unit)}; about {left:.0f}\u00a0% of its water is still in it."


def range_words(weight_g: Mapping[str, float], unit: str) -> str:
    """Return what bars are foretold to weigh: ``weighs about 118 g, 8 of 10 between 115 g and 121 g``."""
    # A forecast is no weighing: whole grams say what it knows.
    places = 0 if unit == GRAM else 1
    low, middle, high = (show_mass(weight_g[name], unit, decimals=places) for name in ("p10", "p50", "p90"))
    return f"weighs about {middle}, 8 of 10 between {low} and {high}"


def _rests_on(forecast: Forecast) -> str:
    weighed = forecast.foretold["weighings"]
    weighings = "one weighing" if weighed == 1 else f"{weighed} weighings"
    cures = forecast.prior.cures if forecast.prior else 0
    usual = "what is usual of such bars: none was cured here yet"
    known = f"what {count(cures, 'cure')} of this workshop taught" if cures else usual
    # A log that does not explain the cures of the house changes no figure, so nothing rests on it.
    is_heard = forecast.room_id is not None and forecast.prior is not None and forecast.prior.prior["damp_effect"] > 0
    return f"From its {weighings}{', the log of its room' if is_heard else ''} and {known}."


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


def _line(point: ForecastPoint, cut_on: date, unit: str, *, today: date) -> ForetoldLine:
    low, middle, high = (figure(grams, unit) for grams in (point.low_g, point.mid_g, point.high_g))
    on = day_words(cut_on + timedelta(days=round(point.day)), today=today)
    return ForetoldLine(on=on, day=f"day\u00a0{round(point.day)}", expected=middle, between=f"{low} – {high}")


def _drawn(ready: Mapping[str, float], word: str, *, horizon: float) -> ReadyWindow | None:
    if ready["p10"] >= horizon:
        return None
    return ReadyWindow(ready["p10"], ready["p90"], f"{word}, 8 in 10")
