"""What the weighings of a batch come to against the limits, before any words."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from statistics import median

from .rule import BarFigures, BatchAtMoment, CheckOutcome, Firmness, RuleLimits, SampleSeries, State
from .series import (
    MOMENT_NOISE_DAYS,
    loss_over_last_seven_days,
    total_loss,
    water_left,
    without_doubtful,
)

OLDEST_NEWEST_DAYS = 10.0
NOT_WEIGHED_DAYS = 14
# The dampest weeks of the simulated rooms bring the median bar of a batch 1.2 % (scales of 0.1 to 1 g included).
MOST_DAMP_GAIN_PCT = 2.0
# Fragrance evaporates too, and a scale rounds: so much beyond the water that went in proves nothing.
MOST_BEYOND_WATER_PCT = 5.0

# 120.9 g a week ago and 120.0 g now are 0.75 % to the maker, but not to a float.
TIE_NOISE_PCT = 1e-9


@dataclass(frozen=True, slots=True)
class Findings:
    """Figures and answers for one reading of the batch; fields as in `Verdict`.

    `half_step_pct` is the median of half a step of the scale, in % of a bar's
    weight. Where it is over the limit of the weekly loss, and the loss over
    the limit by no more than it, the scale hides on which side the loss lies
    (`scale_hides_loss`): the batch then counts neither as dry nor as losing.
    `water_impossible`: more was lost than the water that went in, by more than
    the scale and the fragrance explain, so no limit of water is kept or missed.
    """

    state: State
    bars: tuple[BarFigures, ...]
    weekly_loss_pct: float | None
    total_loss_pct: float | None
    water_left_pct: float | None
    water_left_of_bar_pct: float | None
    days_since_weighed: int
    old_enough: bool
    past_latest: bool
    half_step_pct: float | None
    scale_hides_loss: bool
    loss_small: bool
    water_low: bool
    water_impossible: bool
    noted: int
    denting: int

    @property
    def dry_enough(self) -> bool:
        """Old enough, hardly losing any more, and the water limit kept if there is one."""
        return self.old_enough and self.loss_small and self.water_low

    @property
    def gained_too_much(self) -> bool:
        """The week's gain is more than damp air brings."""
        return self.weekly_loss_pct is not None and self.weekly_loss_pct < -MOST_DAMP_GAIN_PCT - TIE_NOISE_PCT

    @property
    def held(self) -> bool:
        """It would be called dry, on weights that cannot all be those of drying bars."""
        return self.gained_too_much and self.state in (State.READY, State.CHECK_DUE)

    @property
    def dents(self) -> bool:
        """More than half of the bars with a firmness note dent."""
        return 2 * self.denting > self.noted


def find(batch: BatchAtMoment, limits: RuleLimits) -> Findings:
    """Work out the figures of a batch, leaving doubtful weighings out, and its state.

    Each bar counts by its own newest weighing, provided this is at most 10
    days older than the newest of the batch. So the bars not yet reached in a
    round keep their say, and a bar sold early loses it; neither holds the
    verdict where it was, and no weighing is compared with one of another bar.
    A firmness note counts as long: every soap dents in its first weeks.
    """
    figures = tuple(_figures(bar, batch.water_share) for bar in _counted(batch))
    weekly_pct = _median(f.weekly_loss_pct for f in figures)
    water_pct = _median(f.water_left_pct for f in figures)
    notes = _fresh_notes(batch)
    limit_pct = limits.weekly_loss_limit_pct
    half_step_pct = _median(f.half_step_pct for f in figures)
    hidden = (
        weekly_pct is not None
        and half_step_pct is not None
        and not _at_most(half_step_pct, limit_pct)
        and _at_most(weekly_pct, limit_pct + half_step_pct)
    )
    impossible = water_pct is not None and water_pct < -MOST_BEYOND_WATER_PCT
    found = Findings(
        state=State.CURING,
        bars=figures,
        weekly_loss_pct=weekly_pct,
        total_loss_pct=_median(f.total_loss_pct for f in figures),
        water_left_pct=water_pct,
        water_left_of_bar_pct=_median(f.water_left_of_bar_pct for f in figures),
        days_since_weighed=_days_since_weighed(batch),
        old_enough=batch.whole_days >= limits.min_days,
        past_latest=batch.whole_days > limits.latest_day,
        half_step_pct=half_step_pct,
        scale_hides_loss=hidden,
        loss_small=_at_most(weekly_pct, limit_pct) and not hidden,
        water_low=limits.water_left_limit_pct is None or (_at_most(water_pct, limits.water_left_limit_pct) and not impossible),
        water_impossible=impossible,
        noted=len(notes),
        denting=notes.count(Firmness.DENTS),
    )
    return replace(found, state=_state(found, batch.check))


def _state(found: Findings, check: CheckOutcome) -> State:
    if found.days_since_weighed >= NOT_WEIGHED_DAYS:
        return State.NOT_WEIGHED
    losing = found.weekly_loss_pct is not None and not (found.loss_small or found.scale_hides_loss)
    wet = found.water_left_pct is not None and not found.water_low and not found.water_impossible
    if found.past_latest and (losing or wet):
        return State.TOO_SOFT
    if not found.dry_enough:
        return State.CURING
    if found.dents:
        return State.TOO_SOFT
    return State.READY if check is CheckOutcome.PASSED else State.CHECK_DUE


def _counted(batch: BatchAtMoment) -> list[SampleSeries]:
    newest = batch.newest_weighing_day
    counted = []
    for bar in sorted(batch.bars, key=lambda b: b.label):
        good = without_doubtful(bar.weighings)
        if newest is None or not good:
            continue
        if max(w.day for w in good) >= newest - OLDEST_NEWEST_DAYS - MOMENT_NOISE_DAYS:
            counted.append(replace(bar, weighings=good))
    return counted


def _fresh_notes(batch: BatchAtMoment) -> list[Firmness]:
    newest = batch.newest_weighing_day
    return [
        bar.firmness
        for bar in batch.bars
        if bar.firmness is not None
        and (bar.firmness_day is None or newest is None or bar.firmness_day >= newest - OLDEST_NEWEST_DAYS - MOMENT_NOISE_DAYS)
    ]


def _figures(bar: SampleSeries, water_share: float | None) -> BarFigures:
    weekly = loss_over_last_seven_days(bar.weighings)
    total = total_loss(bar.weighings)
    if total is None:
        raise ValueError(f"bar {bar.label} has no weighing to count")
    # Without its weight at the cut nobody knows what went in, nor what left before the first weighing.
    known = water_share is not None and total.starts_at_cut
    water = water_left(bar.weighings, water_share) if water_share is not None and known else None
    return BarFigures(
        label=bar.label,
        newest_day=total.as_of_day,
        weekly_loss_pct=None if weekly is None else weekly.percent,
        total_loss_pct=total.percent,
        water_left_pct=None if water is None else water.of_what_went_in_pct,
        water_left_of_bar_pct=None if water is None else water.of_bar_now_pct,
        starts_at_cut=total.starts_at_cut,
        half_step_pct=None if weekly is None else weekly.half_step_pct,
        start_day=total.start_day,
    )


def _median(values: Iterable[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return median(known) if known else None


def _at_most(value: float | None, limit: float) -> bool:
    return value is not None and value <= limit + TIE_NOISE_PCT


def _days_since_weighed(batch: BatchAtMoment) -> int:
    if batch.days_since_weighed is not None:
        return batch.days_since_weighed
    newest = batch.newest_weighing_day
    if newest is None:
        return batch.whole_days
    return int(max(batch.age_days - newest, 0.0) + MOMENT_NOISE_DAYS)
