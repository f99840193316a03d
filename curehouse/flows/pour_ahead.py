"""A pour that is still to come: when its bars will be dry enough, and when to pour for bars by a day."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from statistics import median

from curehouse.common.errors import Invalid
from curehouse.common.time import local_day
from curehouse.core.cure.came import WhyUnknown, came_of
from curehouse.core.cure.forecast.not_weighed import expected_days
from curehouse.core.cure.forecast.prior import cold_prior
from curehouse.core.planning.cure_days import CureDays, cure_days
from curehouse.core.planning.pour_day import LatestPour, chance_by, latest_pours
from curehouse.core.planning.ready_days import ReadyDays
from curehouse.curing.adapter import limits_of
from curehouse.curing.circumstances import prior_now
from curehouse.curing.foretelling import formula_rule
from curehouse.curing.past_forecasts import weighed_bars
from curehouse.making.formulas.reading import kept
from curehouse.making.models import Batch, Formula, FormulaVersion
from curehouse.making.services.formulas import judged, plan

# So many of a formula's newest cures are looked at.
MOST_CURES = 24
# From the pour to the cut where no batch of the formula tells: common practice, no source.
USUAL_CUT_DAYS = 1
# Within so long a pour is planned; a day beyond is a slip.
FARTHEST = timedelta(days=730)
# A cure begins so long before its bars are wanted, as far as its season goes.
_USUAL_CURE = timedelta(days=35)


@dataclass(frozen=True, slots=True)
class OwnCures:
    """How long the formula's cures took that had their time: by them alone, for the next.

    ``took`` are whole days since the cut, ``never`` how many of them nobody found dry enough; ``next`` is None of
    fewer than three, and where one never was.
    """

    took: tuple[int, ...]
    never: int
    next: CureDays | None


@dataclass(frozen=True, slots=True)
class PourAhead:
    """What is expected of a version's batches that are poured about some day.

    ``cures`` is how many cures of the workshop taught it; of none it is what is usual of such bars. ``bars_per_g`` is
    how many bars a gram of oils gave in the formula's batches, None where nobody knows.
    """

    version: FormulaVersion
    ready: ReadyDays
    cut_after_days: int
    water_share: float
    cures: int
    own: OwnCures
    bars_per_g: float | None = None

    def chance(self, *, pour_on: date, wanted_on: date) -> float:
        """Return how likely bars poured on a day are dry enough by another."""
        return chance_by(
            self.ready, pour_on=pour_on.toordinal(), wanted_on=wanted_on.toordinal(), cut_after_days=self.cut_after_days
        )

    def latest(self, wanted_on: date) -> tuple[LatestPour, ...]:
        """Return the last days on which to pour for bars that are wanted on a day."""
        return latest_pours(self.ready, wanted_on=wanted_on.toordinal(), cut_after_days=self.cut_after_days)

    def dry_on(self, share: float, *, pour_on: date) -> date | None:
        """Return by which day a share of such batches, poured on a day, is dry enough."""
        day = self.ready.day_of(share)
        return None if day is None else pour_on + timedelta(days=self.cut_after_days + day)


def pour_ahead(
    *, version: FormulaVersion, at: datetime, pour_on: date | None = None, wanted_on: date | None = None
) -> PourAhead:
    """Return what is expected of a pour, in the season of its day or of the day its bars are wanted on.

    Raises ``Invalid`` where no day is said or one lies too far off, and where the version's water cannot be told.
    Eleven queries, however many cures there are.
    """
    check_days(pour_on, wanted_on, today=local_day(at, version.workshop.time_zone))
    found = judged(plan(workshop=version.workshop, entry=kept(version).entry, at=at))
    water = None if found.figures is None else found.figures.water_share.middle
    return pour_of(version, water, at=at, pour_on=pour_on, wanted_on=wanted_on)


def check_days(pour_on: date | None, wanted_on: date | None, *, today: date) -> None:
    """Refuse days that cannot be meant (``Invalid``)."""
    if pour_on is None and wanted_on is None:
        raise Invalid("day", "Say on which day you pour, or by which day you want the bars.", field="pour_on")
    for field, day in (("pour_on", pour_on), ("wanted_on", wanted_on)):
        if day is not None and not today <= day <= today + FARTHEST:
            raise Invalid("day", "Choose a day from today on, within two years.", field=field)
    if pour_on is not None and wanted_on is not None and wanted_on < pour_on:
        raise Invalid("day", "The bars are wanted before they are poured: check both days.", field="wanted_on")


def pour_of(
    version: FormulaVersion, water: float | None, *, at: datetime, pour_on: date | None, wanted_on: date | None
) -> PourAhead:
    """Return what is expected of a pour on days that are checked, of bars whose share of water is worked out already."""
    workshop, today = version.workshop, local_day(at, version.workshop.time_zone)
    if water is None or not 0 < water < 1:
        said = "How much water its bars hold cannot be told, so nobody can say when they are dry: see the formula's page first."
        raise Invalid("water_share", said)
    batches = _batches(version.formula)
    cut_after = _cut_after_days(batches, workshop.time_zone)
    begins = pour_on if pour_on is not None else wanted_on - _USUAL_CURE
    prior = prior_now(workshop)
    ready = expected_days(
        cold_prior().as_plain() if prior is None else prior.prior,
        version.formula.name,
        water_share=water,
        cut_day=begins.toordinal() + cut_after,
        rule=formula_rule(version.formula),
    )
    own = _own_cures(version.formula, batches, today)
    return PourAhead(version, ready, cut_after, water, 0 if prior is None else prior.cures, own, _bars_per_g(batches))


def _batches(formula: Formula) -> list[Batch]:
    rows = Batch.objects.within(formula.workshop).filter(formula=formula, cut_at__isnull=False)
    return list(rows.select_related("formula", "workshop").newest_first()[:MOST_CURES])


def _cut_after_days(batches: Sequence[Batch], zone: str) -> int:
    """Return the whole days from pour to cut that are usual of a formula's batches."""
    known = [(local_day(batch.cut_at, zone) - local_day(batch.poured_at, zone)).days for batch in batches if batch.pour_known]
    return max(round(median(known)), 0) if known else USUAL_CUT_DAYS


def recorded_yield(formula: Formula) -> float | None:
    """Return how many bars a gram of oils gave in a formula's batches, None where nobody knows."""
    return _bars_per_g(_batches(formula))


def _bars_per_g(batches: Sequence[Batch]) -> float | None:
    known = [batch.bars_cut / float(batch.fats_g) for batch in batches if batch.fats_g and batch.bars_cut]
    return median(known) if known else None


def _own_cures(formula: Formula, batches: Sequence[Batch], today: date) -> OwnCures:
    """Return how long cures took that were cut so long ago that they had their time: of others only the quick are known."""
    workshop, latest = formula.workshop, formula_rule(formula).latest_day
    had_time = [one for one in batches if (today - local_day(one.cut_at, workshop.time_zone)).days >= latest]
    weighed = weighed_bars(workshop, had_time)
    came = [came_of(weighed.get(one.pk, {}), limits_of(one, workshop), one.water_share or None) for one in had_time]
    took = tuple(one.ready_day for one in came if one.ready_day is not None)
    never = sum(one.why_unknown is WhyUnknown.STILL_WET for one in came)
    return OwnCures(took, never, None if never else cure_days(took))
