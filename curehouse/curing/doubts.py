"""Asking about a weight as it comes in: the rows a doubt is judged by, and the doubt as a row keeps it."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db.models import OuterRef, Q, Subquery, Sum

from curehouse.common.units import GRAMS_PER_OUNCE, OUNCE
from curehouse.core.cure.doubt import Doubt, OtherWeight, look_at
from curehouse.core.cure.expected import Expected, expected_range
from curehouse.core.cure.foretold_weights import Foretold
from curehouse.core.cure.rule import SampleSeries
from curehouse.core.cure.tare import Tare
from curehouse.curing.adapter import DAY_SECONDS, day_of, sample_series
from curehouse.curing.models import Cure, Forecast, Occupancy, Reading, ReadingReview, SampleBar
from curehouse.curing.queries.weighing import COUNTS
from curehouse.making.models import Batch, BatchLiquid
from curehouse.workshops.models import Scale, ScaleTare, Workshop

USUAL_STEP_G = 0.1


@dataclass(frozen=True, slots=True)
class DoubtFound:
    """A doubt, ready to be written with its reading."""

    kind: str
    guess_g: Decimal | None
    detail: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Beside:
    """A sample bar among what its weight is held against."""

    bar: SampleBar
    own: SampleSeries
    others: tuple[SampleSeries, ...]
    neighbours: tuple[OtherWeight, ...]
    bar_mass_g: float | None = None


def bar_masses_g(workshop: Workshop, batches: Sequence[Batch]) -> dict[int, float]:
    """Return, by batch id, the mass that went in over the number of bars, in grams, where both are known (one query)."""
    liquids = BatchLiquid.objects.within(workshop).filter(batch__in=batches).order_by().values_list("batch")
    liquids_g = dict(liquids.annotate(sum_g=Sum("mass_g")))
    return {
        batch.pk: float(batch.fats_g + batch.lye_g + liquids_g[batch.pk]) / batch.bars_cut
        for batch in batches
        if batch.bars_cut and batch.pk in liquids_g and batch.fats_g and batch.lye_g
    }


def foretold_of(workshop: Workshop, batches: Iterable[int]) -> dict[int, dict[str, Foretold]]:
    """Return by batch and bar what its weights to come were foretold to be from all that is known (one query)."""
    columns = ("batch", "batch__cut_at", "forecast__moment", "forecast__asked__days", "forecast__foretold__weight_g")
    current = Cure.objects.within(workshop).filter(batch__in=batches, forecast__isnull=False, forecast_wanted_at__isnull=True)
    return {batch: _by_bar(*told) for batch, *told in current.values_list(*columns)}


def foretold_before(batch: Batch, moment: datetime) -> dict[str, Foretold]:
    """Return by bar what was foretold before any weighing of a moment was known (three queries).

    Nothing is, once one of those it rests on was put right or came in late.
    """
    columns = ("moment", "asked__days", "foretold__weight_g")
    forecasts = Forecast.objects.within(batch.workshop).filter(batch=batch, moment__lt=moment).newest_first()
    row = forecasts.values_list("written_at", *columns).first()
    if row is None:
        return {}
    written_at, known_until, *told = row
    known = Reading.objects.within(batch.workshop).of_batches([batch]).filter(moment__lte=known_until)
    struck = Q(reviews__decision=ReadingReview.Decision.STRUCK, reviews__at__gt=written_at)
    is_stale = known.filter(Q(received_at__gt=written_at) | struck).exists()
    return {} if is_stale else _by_bar(batch.cut_at, known_until, *told)


def _by_bar(
    cut_at: datetime, moment: datetime, days: Sequence[float], weight_g: Mapping[str, Sequence[Mapping[str, float]]]
) -> dict[str, Foretold]:
    as_of_day = max((moment - cut_at).total_seconds() / DAY_SECONDS, 0.0)
    return {
        label: Foretold(as_of_day, tuple(days), *(tuple(one[name] for one in ranges) for name in ("p10", "p50", "p90")))
        for label, ranges in weight_g.items()
    }


def series_of_batch(batch: Batch) -> tuple[list[SampleBar], tuple[SampleSeries, ...]]:
    """Return a batch's sample bars, their weighings and what was foretold of them (three queries)."""
    bars = list(SampleBar.objects.within(batch.workshop).filter(batch=batch).order_by("letter"))
    readings = Reading.objects.within(batch.workshop).of_bars(bars).with_standing()
    return bars, sample_series(batch, bars, readings, foretold=foretold_of(batch.workshop, [batch.pk]).get(batch.pk, {}))


def _neighbours(batch: Batch) -> tuple[OtherWeight, ...]:
    """Return the latest weights of the sample bars of other batches on the same racks."""
    racks = Occupancy.objects.within(batch.workshop).filter(batch=batch, bars__gt=0).values("position__rack")
    nearby = (
        Occupancy.objects.within(batch.workshop)
        .filter(position__rack__in=racks, bars__gt=0)
        .exclude(batch=batch)
        .values("batch")
    )
    # One weight of each bar, not all it ever weighed: this is asked at every weighing.
    newest = Reading.objects.within(batch.workshop).filter(bar=OuterRef("pk")).with_standing().filter(standing=COUNTS)
    bars = (
        SampleBar.objects.within(batch.workshop)
        .filter(batch__in=nearby, ended_at__isnull=True)
        .annotate(newest_g=Subquery(newest.newest_first().values("weight_g")[:1]))
        .filter(newest_g__isnull=False)
        .select_related("batch__formula")
        .order_by("pk")
    )
    return tuple(OtherWeight(f"{bar.batch} {bar.letter}", float(bar.newest_g)) for bar in bars)


def beside(bar: SampleBar) -> Beside:
    """Fetch what a new weight of *bar* is held against."""
    bars, series = series_of_batch(bar.batch)
    own = next(one for one, row in zip(series, bars, strict=True) if row.pk == bar.pk)
    others = tuple(one for one, row in zip(series, bars, strict=True) if row.pk != bar.pk)
    mass_g = bar_masses_g(bar.batch.workshop, [bar.batch]).get(bar.batch_id)
    return Beside(bar=bar, own=own, others=others, neighbours=_neighbours(bar.batch), bar_mass_g=mass_g)


def _water_share(batch: Batch) -> float | None:
    return batch.water_share if batch.water_share > 0 else None


def _step(scale: Scale | None) -> float:
    return float(scale.step_g) if scale else USUAL_STEP_G


def tares_in_use(workshop: Workshop, scale_ids: Collection[int]) -> dict[int, tuple[Tare, ...]]:
    """Return, by scale, what may have been forgotten on it (one query, none without scales)."""
    tares: dict[int, tuple[Tare, ...]] = {}
    rows = ScaleTare.objects.within(workshop).in_use().filter(scale__in=scale_ids) if scale_ids else ()
    for row in rows:
        tares[row.scale_id] = (*tares.get(row.scale_id, ()), Tare(row.name, float(row.weight_g)))
    return tares


def tares_on(scale: Scale | None) -> tuple[Tare, ...]:
    """Return what may have been forgotten on one scale (one query)."""
    return () if scale is None else tares_in_use(scale.workshop, [scale.pk]).get(scale.pk, ())


def expected_for(around: Beside, *, moment: datetime, scale: Scale | None) -> Expected | None:
    """Return the range in which the bar's next weight is expected, in grams."""
    batch = around.bar.batch
    return expected_range(
        around.own.weighings,
        day_of(batch, moment),
        batch=around.others,
        water_share=_water_share(batch),
        step_g=_step(scale),
        foretold=around.own.foretold,
    )


def doubt_about(
    around: Beside,
    *,
    weight_g: Decimal,
    moment: datetime,
    scale: Scale | None,
    tares: Sequence[Tare],
    typed: str = "",
    unit: str = "g",
) -> DoubtFound | None:
    """Return what is to be asked about a weight, or None; *tares* may have stood on the scale."""
    batch = around.bar.batch
    found = look_at(
        float(weight_g),
        around.own.weighings,
        day_of(batch, moment),
        batch=around.others,
        neighbours=around.neighbours,
        water_share=_water_share(batch),
        bar_mass_g=around.bar_mass_g,
        step_g=_step(scale),
        tares=tares,
        scale=scale.pk if scale else None,
        typed=typed.replace(",", "."),
        grams_per_unit=float(GRAMS_PER_OUNCE) if unit == OUNCE else 1.0,
        foretold=around.own.foretold,
    )
    return None if found is None else as_kept(found)


def as_kept(found: Doubt) -> DoubtFound:
    """Return a doubt as it is written with its reading."""
    return DoubtFound(
        kind=found.kind.value,
        guess_g=None if found.guess_g is None else Decimal(str(round(found.guess_g, 3))),
        detail={
            "question": found.question,
            "difference_g": round(found.difference_g, 3),
            "neighbour": found.neighbour,
            "alike": list(found.alike),
            "tare": found.tare.label if found.tare else None,
            "tare_g": f"{found.tare.weight_g:.3f}" if found.tare else None,
            "expected_low_g": round(found.expected.low_g, 3),
            "expected_high_g": round(found.expected.high_g, 3),
        },
    )


def range_that_asked(reading: Reading) -> tuple[float, float] | None:
    """Return the range (grams) outside of which a doubtful reading lay as it came in; None where none was kept with it."""
    low_g, high_g = (reading.doubt_detail.get(name) for name in ("expected_low_g", "expected_high_g"))
    return None if low_g is None or high_g is None else (low_g, high_g)


def without(around: Beside, reading: Reading, *, moment: datetime) -> Beside:
    """Return *around* as it stands without a reading of the bar itself: what a correction as of a moment is held against.

    What was foretold is what was before it: what was foretold since may believe the weight that is gone.
    """
    batch = around.bar.batch
    gone = (day_of(batch, reading.moment), float(reading.weight_g))
    kept = tuple(one for one in around.own.weighings if (one.day, one.weight_g) != gone)
    told = foretold_before(batch, min(reading.moment, moment))
    others = tuple(replace(one, foretold=told.get(one.label)) for one in around.others)
    return replace(around, own=replace(around.own, weighings=kept, foretold=told.get(around.own.label)), others=others)
