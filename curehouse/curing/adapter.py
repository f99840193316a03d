"""Rows into the core's frozen inputs, and the core's verdict into a row's fields.

The only place where Decimal grams become floats and moments become days since the cut. A forecast
takes the same :class:`BatchRows`.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from types import MappingProxyType
from typing import Any

from curehouse.common.time import local_day
from curehouse.core.cure.foretold_weights import Foretold
from curehouse.core.cure.measured import assess
from curehouse.core.cure.rule import (
    BatchAtMoment,
    CheckOutcome,
    EffectiveSuperfat,
    Firmness,
    RuleLimits,
    SampleSeries,
    State,
    Verdict,
)
from curehouse.core.cure.series import Weighing
from curehouse.curing.circumstances import with_circumstances
from curehouse.curing.models import Reading, SampleBar
from curehouse.curing.queries.weighing import ASKED, COUNTS
from curehouse.making.models import Batch, SafetyCheck
from curehouse.workshops.models import Scale, Workshop

MEASURED_RULE = "measured-1"
DAY_SECONDS = 86_400.0


@dataclass(frozen=True, slots=True)
class BatchRows:
    """What is on record of a batch's cure; readings carry ``standing`` (see ReadingQuerySet)."""

    batch: Batch
    bars: Sequence[SampleBar]
    readings: Sequence[Reading]
    checks: Sequence[SafetyCheck]
    fats_g: float | None
    liquids_g: float
    steps_g: Mapping[int, float]

    def readings_up_to(self, moment: datetime, reading_id: int | None) -> list[Reading]:
        """Return what was weighed up to *moment*; of that very moment, up to *reading_id*."""
        return [
            row
            for row in self.readings
            if row.moment < moment or (row.moment == moment and (reading_id is None or row.pk <= reading_id))
        ]


def batch_rows(batch: Batch) -> BatchRows:
    """Fetch what is on record of one batch (five queries)."""
    bars = list(SampleBar.objects.within(batch.workshop).filter(batch=batch).order_by("letter"))
    return BatchRows(
        batch=batch,
        bars=bars,
        readings=list(Reading.objects.within(batch.workshop).of_bars(bars).with_standing()),
        checks=list(SafetyCheck.objects.within(batch.workshop).filter(batch=batch).newest_first()),
        fats_g=None if batch.fats_g is None else float(batch.fats_g),
        liquids_g=float(sum(row.mass_g for row in batch.liquids.all())),
        steps_g={scale.pk: float(scale.step_g) for scale in Scale.objects.within(batch.workshop)},
    )


def day_of(batch: Batch, moment: datetime) -> float:
    """Return days since the cut; a bar weighed in the hour of the cut was weighed on day 0."""
    if batch.cut_at is None:
        raise ValueError("a batch that is not cut has no days")
    return max((moment - batch.cut_at).total_seconds() / DAY_SECONDS, 0.0)


def sample_series(
    batch: Batch,
    bars: Iterable[SampleBar],
    readings: Iterable[Reading],
    *,
    label: str = "",
    steps_g: Mapping[int, float] = MappingProxyType({}),
    foretold: Mapping[str, Foretold] = MappingProxyType({}),
) -> tuple[SampleSeries, ...]:
    """Return each bar's weighings that count or are asked about, oldest first.

    *label* goes before the letter, for bars that are seen beside those of other batches. *steps_g* are
    the steps of the scales by their id; a weighing on another scale has none. *foretold* is by letter.
    """
    by_bar: dict[int, list[Reading]] = {}
    for row in readings:
        if row.standing in (COUNTS, ASKED):
            by_bar.setdefault(row.bar_id, []).append(row)
    series = []
    for bar in bars:
        rows = sorted(by_bar.get(bar.pk, ()), key=lambda row: (row.moment, row.pk))
        note = next((row for row in reversed(rows) if row.firmness), None)
        series.append(
            SampleSeries(
                label=f"{label}{bar.letter}",
                weighings=tuple(
                    Weighing(
                        day_of(batch, row.moment),
                        float(row.weight_g),
                        doubtful=row.standing == ASKED,
                        kept=row.doubt != "" and row.standing == COUNTS,
                        scale=row.scale_id,
                        step_g=None if row.scale_id is None else steps_g.get(row.scale_id),
                    )
                    for row in rows
                ),
                firmness=None if note is None else Firmness(note.firmness),
                firmness_day=None if note is None else day_of(batch, note.moment),
                foretold=foretold.get(bar.letter),
            )
        )
    return tuple(series)


def limits_of(batch: Batch, workshop: Workshop) -> RuleLimits:
    """Return the ready rule: the workshop's, with the formula's own minimum where it has one."""
    water = workshop.water_left_limit_pct
    min_days = batch.formula.min_days or workshop.min_days
    return RuleLimits(
        min_days=min_days,
        weekly_loss_limit_pct=float(workshop.weekly_loss_limit_pct),
        latest_day=max(workshop.latest_day, min_days),
        water_left_limit_pct=None if water is None else float(water),
    )


def _check_outcome(checks: Sequence[SafetyCheck], moment: datetime) -> CheckOutcome:
    for check in checks:
        if check.at <= moment:
            return CheckOutcome.PASSED if check.passed else CheckOutcome.FAILED
    return CheckOutcome.NONE


def batch_at(rows: BatchRows, workshop: Workshop, *, moment: datetime, reading_id: int | None = None) -> BatchAtMoment:
    """Return the batch as known at *moment* (and, of readings at that very moment, at *reading_id*)."""
    batch, zone = rows.batch, workshop.time_zone
    if batch.cut_at is None:
        raise ValueError("a batch that is not cut has no cure")
    known = rows.readings_up_to(moment, reading_id)
    seen = [row.moment for row in known if row.standing in (COUNTS, ASKED)]
    today = local_day(moment, zone)
    share = batch.water_share
    return BatchAtMoment(
        whole_days=max((today - local_day(batch.cut_at, zone)).days, 0),
        age_days=day_of(batch, moment),
        bars=sample_series(batch, rows.bars, known, steps_g=rows.steps_g),
        check=_check_outcome(rows.checks, moment),
        water_share=share if share > 0 else None,
        days_since_weighed=(today - local_day(max(seen), zone)).days if seen else None,
        liquid_pct_of_fats=100.0 * rows.liquids_g / rows.fats_g if rows.liquids_g and rows.fats_g else None,
        cut_after_hours=(batch.cut_at - batch.poured_at).total_seconds() / 3600.0 if batch.pour_known else None,
        superfat=_effective(batch),
    )


def _effective(batch: Batch) -> EffectiveSuperfat | None:
    if batch.superfat_effective is None:
        return None
    low, high = batch.superfat_effective_low, batch.superfat_effective_high
    return EffectiveSuperfat(
        middle_pct=100.0 * float(batch.superfat_effective),
        low_pct=None if low is None else 100.0 * float(low),
        high_pct=None if high is None else 100.0 * float(high),
        may_be_caustic=batch.superfat_low is not None and batch.superfat_low < 0,
    )


def verdict_at(rows: BatchRows, workshop: Workshop, *, moment: datetime, reading_id: int | None = None) -> Verdict:
    """Return the measured rule's verdict on the batch as known at *moment* (three queries more for one too soft)."""
    known, limits = batch_at(rows, workshop, moment=moment, reading_id=reading_id), limits_of(rows.batch, workshop)
    verdict = assess(known, limits)
    if verdict.state_without_doubtful is not State.TOO_SOFT:
        return verdict
    return assess(with_circumstances(known, rows.batch, limits), limits)


def verdict_fields(verdict: Verdict) -> dict[str, Any]:
    """Return the fields of an :class:`Assessment` that come from a verdict."""
    return {
        "method": MEASURED_RULE,
        "state": verdict.state.value,
        "age_days": verdict.age_days,
        "dry_enough": verdict.dry_enough,
        "weekly_loss_pct": verdict.weekly_loss_pct,
        "total_loss_pct": verdict.total_loss_pct,
        "water_left_pct": verdict.water_left_pct,
        "reasons": [asdict(reason) for reason in verdict.reasons],
        "advice": list(verdict.advice),
        "figures": {
            "days_to_min": verdict.days_to_min,
            "water_left_of_bar_pct": verdict.water_left_of_bar_pct,
            "state_without_doubtful": verdict.state_without_doubtful.value,
            "state_with_doubtful": verdict.state_with_doubtful.value,
            "bars": [asdict(bar) for bar in verdict.bars],
        },
    }
