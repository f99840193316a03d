"""Where the bars of a run will stand, and until when: asked before it is planned, and kept for it when it is."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from curehouse.common.errors import Invalid
from curehouse.common.time import local_day
from curehouse.core.planning.shelf import Shelf, first_day_with_room, hold
from curehouse.curing.models import ExpectedCure, Position
from curehouse.curing.services.kept_places import CureToCome, keep_places, let_places_go, lock_places
from curehouse.curing.shelf import ShelfAhead, Standing, read_shelf
from curehouse.flows.pour_ahead import PourAhead, pour_ahead
from curehouse.making.models import FormulaVersion, Run
from curehouse.making.services import MOST_BARS
from curehouse.making.services.runs import clean_bars, clean_fats

# Places are kept until so many of such batches are dry enough.
KEPT_UNTIL = 0.9
# So far a day is looked for on which there is room.
FARTHEST = timedelta(days=120)
_NO_BARS = "Nobody knows how many bars it gives, for no batch of it was cut yet: say how many."


@dataclass(frozen=True, slots=True)
class PlacesAhead:
    """Where the bars of a run can stand for the whole of their cure.

    ``leave_first`` are batches that stand at those places now and are expected to be gone by then; ``lacking`` so many
    bars find no place, and ``pour_first_on`` is the first day to pour on from which all do, None where there is none
    within four months.
    """

    cure: CureToCome
    shelf: ShelfAhead
    places: tuple[tuple[Position, int], ...]
    leave_first: tuple[Standing, ...]
    lacking: int
    pour_first_on: date | None


def expect_cure(*, ahead: PourAhead, fats_g: Decimal, pour_on: date, bars: int | None = None) -> CureToCome:
    """Return what is expected of the cure of a run; *bars* where the maker says how many.

    Raises ``Invalid`` where nobody knows how many bars it gives.
    """
    count = clean_bars(bars) if bars is not None else _expected_bars(ahead, fats_g)
    cut_on = pour_on + timedelta(days=ahead.cut_after_days)
    most = ahead.dry_on(KEPT_UNTIL, pour_on=pour_on)
    last = cut_on + timedelta(days=ahead.ready.last_day)
    return CureToCome(count, pour_on, cut_on, ahead.dry_on(0.5, pour_on=pour_on), most or last, most is not None)


def _expected_bars(ahead: PourAhead, fats_g: Decimal) -> int:
    if ahead.bars_per_g is None:
        raise Invalid("bars_unknown", _NO_BARS, field="bars")
    return min(max(round(ahead.bars_per_g * float(fats_g)), 1), MOST_BARS)


def places_ahead(*, cure: CureToCome, shelf: ShelfAhead, run: Run | None = None) -> PlacesAhead:
    """Return where the bars of a cure can stand; what is kept for the *run* itself so far is free to it."""
    core = shelf.shelf(without=run)
    first, last = cure.cut_on.toordinal(), cure.stays_until.toordinal()
    # What is empty already needs nobody to leave in time.
    empty = shelf.shelf(without=run, nobody_leaves=True)
    found = hold(empty, cure.bars, first_day=first, last_day=last)
    if found.lacking:
        found = hold(core, cure.bars, first_day=first, last_day=last)
    taken = {place for place, _bars in found.parts}
    return PlacesAhead(
        cure=cure,
        shelf=shelf,
        places=tuple((shelf.positions[place], bars) for place, bars in found.parts),
        leave_first=tuple(one for one in shelf.gone_before(cure.cut_on) if one.place in taken),
        lacking=found.lacking,
        pour_first_on=first_pour_with_room(cure=cure, shelf=core, from_day=shelf.today),
    )


def first_pour_with_room(*, cure: CureToCome, shelf: Shelf, from_day: date) -> date | None:
    """Return the first day to pour on, from a day on, with room for all bars of such a cure; None: none in four months."""
    cut_after, stays = (cure.cut_on - cure.pour_on).days, (cure.stays_until - cure.cut_on).days + 1
    first = from_day.toordinal() + cut_after
    day = first_day_with_room(shelf, cure.bars, from_day=first, days=stays, latest=first + FARTHEST.days)
    return None if day is None else date.fromordinal(day - cut_after)


def look_for_places(
    *, version: FormulaVersion, fats_g: Decimal, pour_on: date, bars: int | None = None, at: datetime
) -> PlacesAhead:
    """Say where the bars of a run would stand; nothing is kept."""
    ahead = pour_ahead(version=version, at=at, pour_on=pour_on)
    cure = expect_cure(ahead=ahead, fats_g=clean_fats(fats_g), pour_on=pour_on, bars=bars)
    return places_ahead(cure=cure, shelf=read_shelf(version.workshop, local_day(at, version.workshop.time_zone)))


def keep_for_run(*, run: Run, at: datetime) -> ExpectedCure | None:
    """Keep places for a run (locked); where nobody knows how many bars, or how long they take, none: its page says why."""
    try:
        return keep_places_of(run=run, at=at)
    except Invalid:
        let_places_go(run=run)
        return None


def why_no_places(run: Run, *, at: datetime) -> str:
    """Return why no places are kept for a run that has none."""
    try:
        ahead = pour_ahead(version=run.version, at=at, pour_on=max(run.pour_on, local_day(at, run.workshop.time_zone)))
        expect_cure(ahead=ahead, fats_g=run.fats_g, pour_on=run.pour_on, bars=run.bars)
    except Invalid as refused:
        return str(refused)
    return "It was planned before places were kept for runs."


def keep_places_of(*, run: Run, at: datetime) -> ExpectedCure:
    """Keep places for a run (locked) for the whole of its cure, as far as there is room, in the stead of those it had.

    Raises ``Invalid`` where nobody knows how many bars it gives, or how much water they hold.
    """
    today = local_day(at, run.workshop.time_zone)
    pour_on = max(run.pour_on, today) if run.batch is None else local_day(run.batch.poured_at, run.workshop.time_zone)
    ahead = pour_ahead(version=run.version, at=at, pour_on=max(pour_on, today))
    cure = expect_cure(ahead=ahead, fats_g=run.fats_g, pour_on=pour_on, bars=run.bars)
    lock_places(run.workshop)
    found = places_ahead(cure=cure, shelf=read_shelf(run.workshop, today), run=run)
    return keep_places(run=run, cure=cure, places=found.places, at=at)
