"""What a workshop's forecasts came to: those it told, and those its ended cures would have had, against what was weighed.

Read in a constant number of queries, and nothing is foretold anew: what was told is kept with each forecast, what
would have been told with the night's calibration. Neither loads NumPy.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from django.db.models import Exists, Max, OuterRef

from curehouse.common.time import local_day
from curehouse.core.cure.came import Came, WhyUnknown, came_of
from curehouse.core.cure.foretold_weights import between
from curehouse.core.cure.past_told import Judged, Range, Score, Told, bucket, is_foresight, judged, late_day, scores
from curehouse.core.cure.rule import RuleLimits
from curehouse.core.cure.series import Weighing
from curehouse.curing.doubts import USUAL_STEP_G
from curehouse.curing.models import CureLearning, Forecast, Reading
from curehouse.curing.queries.weighing import COUNTS
from curehouse.making.models import Batch
from curehouse.workshops.models import Workshop

# So many of the newest batches that were foretold are read: a house that pours two a week has a year's in sight.
MOST_BATCHES = 120
GOING_ON, TOLD_LATE = "going_on", "told_late"

# A bar's weighings that count by whole day since the cut, by its letter.
Weighed = Mapping[str, Mapping[int, Weighing]]


@dataclass(frozen=True, slots=True)
class PastBatch:
    """A batch with what was told of it, by number of weighings, held against what came."""

    batch: Batch
    came: Came
    judged: Mapping[int, Judged]

    @property
    def counts(self) -> bool:
        """Of one range of its ready day at least it is known whether it held."""
        return any(one.held is not None for one in self.judged.values())

    @property
    def why_not(self) -> str:
        """Why it does not count: `GOING_ON`, `TOLD_LATE` (once it was dry), or the value of a :class:`WhyUnknown`."""
        if not self.judged:
            return TOLD_LATE
        if self.came.why_unknown in (None, WhyUnknown.TOO_FAR_APART):
            return WhyUnknown.TOO_FAR_APART.value
        return GOING_ON if self.batch.cure.ended_at is None else self.came.why_unknown.value


@dataclass(frozen=True, slots=True)
class Past:
    """Forecasts of one source: how they did, and the batches, the newest first."""

    scores: tuple[Score, ...]
    batches: tuple[PastBatch, ...]

    @property
    def counted(self) -> int:
        """Return how many batches tell whether a range of their ready day held."""
        return sum(one.counts for one in self.batches)

    @property
    def uncounted(self) -> Mapping[str, int]:
        """Return how many do not, by why not."""
        return Counter(one.why_not for one in self.batches if not one.counts)


@dataclass(frozen=True, slots=True)
class PastForecasts:
    """What was told, and what ended cures would have been told; None until a night has told them again."""

    told: Past
    replayed: Past | None


@dataclass(frozen=True, slots=True)
class _Row:
    """A forecast as it is kept, without its weights."""

    key: int
    weighings: int
    known_day: int
    rule: Mapping[str, Any]
    ready_day: Sequence[float]
    soft_probability: float


@dataclass(frozen=True, slots=True)
class _Chosen:
    """A forecast that is held against what came, and the day of the late weighing that its weights are held against."""

    row: _Row
    came: Came
    late_day: int | None


@dataclass(frozen=True, slots=True)
class _Held:
    """What came of a batch, and the forecasts that are held against it, by number of weighings."""

    came: Came
    chosen: dict[int, _Chosen]


_Weights = Mapping[str, Range]
_Picked = Mapping[int, _Held]


def past_forecasts(workshop: Workshop) -> PastForecasts:
    """Return what a workshop's forecasts came to (six queries, however many there are)."""
    again = _told_again(workshop)
    by_number = {int(one["key"]): one for one in again["told"]}
    batches = Batch.objects.within(workshop).select_related("formula", "cure").order_by("-cut_at", "-pk")
    is_told = Exists(Forecast.objects.within(workshop).filter(batch=OuterRef("pk")))
    told = list(batches.filter(is_told)[:MOST_BATCHES])
    ended = list(batches.filter(number__in=by_number))
    weighed = weighed_bars(workshop, {one.pk: one for one in (*told, *ended)}.values())
    rows = _told_rows(workshop, told)
    picked = {one.pk: _picked(one, rows[one.pk], weighed.get(one.pk, {})) for one in told}
    return PastForecasts(
        told=_past(told, picked, _weights_told(workshop, picked), weighed),
        replayed=_replayed(ended, again, weighed) if by_number else None,
    )


def _told_again(workshop: Workshop) -> Mapping[str, Any]:
    """Return what was kept of the night's replay, of that which heard the rooms' logs where there is one.

    Nothing where that night was before such was kept.
    """
    rows = CureLearning.objects.within(workshop)
    columns = (f"{one}__calibration__told_again" for one in ("logged_calibration", "calibration"))
    kept = next((one for row in rows.values_list(*columns) for one in row if one), None)
    return kept or {"rule": {}, "told": []}


def weighed_bars(workshop: Workshop, batches: Iterable[Batch]) -> Mapping[int, Weighed]:
    """Return the weighings that count, by batch; of two of a bar on one day the later."""
    cut_days = {one.pk: local_day(one.cut_at, workshop.time_zone) for one in batches}
    rows = Reading.objects.within(workshop).of_batches(cut_days).with_standing().filter(standing=COUNTS)
    found: dict[int, dict[str, dict[int, Weighing]]] = defaultdict(lambda: defaultdict(dict))
    columns = ("bar__batch_id", "bar__letter", "moment", "weight_g", "scale_id", "scale__step_g")
    for key, letter, moment, weight_g, scale, step_g in rows.values_list(*columns):
        day = max((local_day(moment, workshop.time_zone) - cut_days[key]).days, 0)
        step = None if step_g is None else float(step_g)
        found[key][letter][day] = Weighing(float(day), float(weight_g), scale=scale, step_g=step)
    return found


def _told_rows(workshop: Workshop, batches: Sequence[Batch]) -> Mapping[int, list[_Row]]:
    """Return the last forecast of each session, by batch, the oldest session first."""
    forecasts = Forecast.objects.within(workshop)
    newest = forecasts.filter(batch__in=batches).values("batch", "moment").annotate(newest=Max("pk"))
    cut_days = {one.pk: local_day(one.cut_at, workshop.time_zone) for one in batches}
    found: dict[int, list[_Row]] = defaultdict(list)
    columns = ("foretold__weighings", "asked__rule", "foretold__ready_day", "foretold__soft_probability")
    rows = forecasts.filter(pk__in=newest.values("newest")).order_by("moment", "pk")
    for key, batch, moment, weighings, rule, ready, soft in rows.values_list("pk", "batch_id", "moment", *columns):
        day = max((local_day(moment, workshop.time_zone) - cut_days[batch]).days, 0)
        found[batch].append(_Row(key, weighings, day, rule, (ready["p10"], ready["p50"], ready["p90"]), soft))
    return found


def _picked(batch: Batch, rows: Sequence[_Row], bars: Weighed) -> _Held:
    """Return of each number of weighings the last forecast that was told before what came was seen.

    Of those after many weighings (`MOST_WEIGHINGS` and more) that after the fewest counts. What came is by the rule
    that each was told by.
    """
    days = {day for bar in bars.values() for day in bar}
    by_rule = cache(lambda limits: came_of(bars, limits, batch.water_share or None))
    chosen: dict[int, _Chosen] = {}
    for row in rows:
        came, number = by_rule(_limits(row.rule)), bucket(row.weighings)
        is_wanted = number not in chosen or row.weighings <= chosen[number].row.weighings
        if is_wanted and is_foresight(row.known_day, came):
            chosen[number] = _Chosen(row, came, late_day(days, row.known_day))
    return _Held(by_rule(_limits(rows[-1].rule)), chosen)


def _limits(rule: Mapping[str, Any]) -> RuleLimits:
    return RuleLimits(
        min_days=rule["min_days"],
        weekly_loss_limit_pct=rule["weekly_loss_limit_pct"],
        latest_day=rule["latest_day"],
        water_left_limit_pct=rule["water_left_limit_pct"],
    )


def _weights_told(workshop: Workshop, picked: _Picked) -> Mapping[int, _Weights]:
    """Return by forecast what was told of the bars' weights on the day of the late weighing."""
    chosen = [one for held in picked.values() for one in held.chosen.values()]
    wanted = {one.row.key: one.late_day for one in chosen if one.late_day is not None}
    rows = Forecast.objects.within(workshop).filter(pk__in=wanted)
    return {
        key: {bar: _on(days, told, wanted[key]) for bar, told in weights.items()}
        for key, days, weights in rows.values_list("pk", "asked__days", "foretold__weight_g")
        if wanted[key] <= days[-1]
    }


def _on(days: Sequence[float], told: Sequence[Mapping[str, float]], day: float) -> Range:
    return Range(*(between(days, [one[name] for one in told], day) for name in ("p10", "p50", "p90")))


def _replayed(batches: Sequence[Batch], again: Mapping[str, Any], weighed: Mapping[int, Weighed]) -> Past:
    """Return what was told again, held against what came by the rule it was told by."""
    of_number, limits = {one.number: one for one in batches}, _limits(again["rule"])
    picked: dict[int, _Held] = {}
    weights: dict[int, _Weights] = {}
    for place, told in enumerate(again["told"]):
        batch = of_number.get(int(told["key"]))
        if batch is None:
            continue
        if batch.pk not in picked:
            came = came_of(weighed.get(batch.pk, {}), limits, batch.water_share or None)
            picked[batch.pk] = _Held(came, {})
        held = picked[batch.pk]
        row = _Row(place, told["weighings"], told["known_day"], again["rule"], told["ready_day"], told["soft_probability"])
        if is_foresight(row.known_day, held.came):
            held.chosen[bucket(row.weighings)] = _Chosen(row, held.came, told["late_day"])
            weights[place] = {bar: Range(*three) for bar, three in told["weight_g"].items()}
    return _past([one for one in batches if one.pk in picked], picked, weights, weighed)


def _past(batches: Iterable[Batch], picked: _Picked, weights: Mapping[int, _Weights], weighed: Mapping[int, Weighed]) -> Past:
    found = []
    for batch in batches:
        held, bars = picked[batch.pk], weighed.get(batch.pk, {})
        own = {number: _judged(one, weights.get(one.row.key, {}), bars) for number, one in sorted(held.chosen.items())}
        found.append(PastBatch(batch, held.came, own))
    return Past(scores(one for batch in found for one in batch.judged.values()), tuple(found))


def _judged(one: _Chosen, weights: _Weights, bars: Weighed) -> Judged:
    row, day = one.row, one.late_day
    told = Told(
        weighings=row.weighings,
        known_day=row.known_day,
        latest_day=row.rule["latest_day"],
        ready_day=Range(*row.ready_day),
        soft_probability=row.soft_probability,
        late_day=day,
        weight_g=weights,
    )
    late = {bar: weighed[day] for bar, weighed in bars.items() if day is not None and day in weighed}
    steps = {bar: USUAL_STEP_G if reading.step_g is None else reading.step_g for bar, reading in late.items()}
    return judged(told, one.came, {bar: reading.weight_g for bar, reading in late.items()}, steps)
