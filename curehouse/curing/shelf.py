"""Racks as the core of planning takes them: places in walking order, and how long bars stay at each.

A batch that stands leaves on the day by which nine of ten such batches are dry enough. One that is dry enough may go
today; of one that is to stay, or of which nothing is foretold, nobody knows when it leaves.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from curehouse.common.time import local_day
from curehouse.core.planning.shelf import Shelf, Stay
from curehouse.curing.models import Cure, ExpectedCure, Occupancy, Position
from curehouse.curing.models.verdicts import State
from curehouse.curing.obstacles import obstacles_of
from curehouse.curing.outlook import TO_COME
from curehouse.making.leaving import CHECK_NEEDED
from curehouse.making.models import Batch, Run
from curehouse.workshops.models import Workshop

DRY_ENOUGH = frozenset({State.READY, State.CHECK_DUE})


@dataclass(frozen=True, slots=True)
class Standing:
    """Bars of a batch at a place (by its index); without a last day nobody knows when they leave."""

    batch: Batch
    place: int
    bars: int
    last_day: date | None


@dataclass(frozen=True, slots=True)
class ShelfAhead:
    """The places of a workshop, in walking order, with what stands there, what is kept for runs, and the cures that go on."""

    today: date
    positions: tuple[Position, ...]
    standing: tuple[Standing, ...]
    kept: tuple[ExpectedCure, ...]
    cures: tuple[Cure, ...]

    def shelf(self, *, without: Run | None = None, nobody_leaves: bool = False) -> Shelf:
        """Return it as the core takes it, without what is kept for one of the runs; or as if all that stands stayed."""
        here = self._here(nobody_leaves=nobody_leaves)
        return Shelf(tuple(one.capacity_bars for one in self.positions), (*here, *self._to_come(without)))

    def gone_before(self, day: date) -> tuple[Standing, ...]:
        """Return what stands there now and is expected to have left by a day."""
        return tuple(one for one in self.standing if one.last_day is not None and one.last_day < day)

    def _here(self, *, nobody_leaves: bool) -> Iterable[Stay]:
        today = self.today.toordinal()
        for one in self.standing:
            stays = nobody_leaves or one.last_day is None
            yield Stay(one.place, one.bars, today, None if stays else max(one.last_day.toordinal(), today))

    def _to_come(self, without: Run | None) -> Iterable[Stay]:
        index = {position.pk: place for place, position in enumerate(self.positions)}
        for cure in self.kept:
            if without is not None and cure.run_id == without.pk:
                continue
            first, last = days_kept(cure, self.today)
            for one in cure.places.all():
                yield Stay(index[one.position_id], one.bars, first.toordinal(), last.toordinal())


def days_kept(cure: ExpectedCure, today: date) -> tuple[date, date]:
    """Return from when to when places are kept for a run (at hand).

    One whose day is past counts as poured today, one that is poured and not cut as cut today at the earliest.
    """
    day = cure.pour_on if cure.run.state == Run.State.PLANNED else cure.cut_on
    late = max(today - day, timedelta(0))
    return cure.cut_on + late, cure.stays_until + late


def read_shelf(workshop: Workshop, today: date) -> ShelfAhead:
    """Read the places of a workshop with all that is known of who stays there when (five queries)."""
    kept = tuple(ExpectedCure.objects.within(workshop).standing())
    stand = list(Occupancy.objects.within(workshop).standing().select_related("batch__formula"))
    # Read last: a place that is put up meanwhile may be kept already, and none is ever taken down.
    positions = tuple(Position.objects.within(workshop).in_walking_order())
    index = {position.pk: place for place, position in enumerate(positions)}
    cures = {cure.batch_id: cure for cure in Cure.objects.within(workshop).going_on().with_forecast().with_obstacles()}
    standing = tuple(
        Standing(row.batch, index[row.position_id], row.bars, leaves_on(cures.get(row.batch_id), today, workshop.time_zone))
        for row in stand
    )
    return ShelfAhead(today, positions, standing, kept, tuple(cures.values()))


def is_stopped(cure: Cure) -> bool:
    """Return whether the bars of a batch (fetched with obstacles) go to nobody as it stands, however dry they are."""
    return any(one.code != CHECK_NEEDED for one in obstacles_of(cure))


def leaves_on(cure: Cure | None, today: date, zone: str) -> date | None:
    """Return until which day the bars of a batch (fetched with forecast and obstacles) stay; None where nothing tells."""
    if cure is None or is_stopped(cure):
        return None
    if cure.state in DRY_ENOUGH:
        return today
    if cure.forecast is None or cure.state not in TO_COME:
        return None
    ready, horizon = cure.forecast.foretold["ready_day"], cure.forecast.asked["rule"]["horizon_days"]
    if ready["p90"] >= horizon:
        return None
    return max(local_day(cure.batch.cut_at, zone) + timedelta(days=round(ready["p90"])), today)
