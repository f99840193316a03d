"""A run that may be planned, looked at whole: what is there for it, where it stands, when it is dry, and what it costs."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from curehouse.common.errors import Invalid
from curehouse.common.time import local_day
from curehouse.curing.shelf import ShelfAhead, read_shelf
from curehouse.flows.check_run import Held, hold_needs
from curehouse.flows.pour_ahead import PourAhead, check_days, pour_of
from curehouse.flows.run_costs import RunCost, cost_of_run
from curehouse.flows.run_places import FARTHEST, PlacesAhead, expect_cure, first_pour_with_room, places_ahead
from curehouse.making.models import FormulaVersion
from curehouse.making.services.run_needs import run_needs
from curehouse.making.services.runs import clean_fats, clean_run_day


@dataclass(frozen=True, slots=True)
class PlanAhead:
    """What a run would meet on its day.

    Of what cannot be told there is None and, in words, why: ``why_no_days`` of ``ahead`` and what follows from it,
    ``why_no_places`` of ``places``. ``first_on`` is the first day from its own on, within four months, on which all it
    takes has safely come and all its bars find a place; ``first_if_ordered_on`` the same with an order today.
    """

    held: Held
    ahead: PourAhead | None
    why_no_days: str
    places: PlacesAhead | None
    why_no_places: str
    cost: RunCost
    first_on: date | None
    first_if_ordered_on: date | None


def plan_ahead(
    *,
    version: FormulaVersion,
    fats_g: Decimal,
    pour_on: date,
    bars: int | None = None,
    wanted_on: date | None = None,
    at: datetime,
) -> PlanAhead:
    """Look at a run of a version on a day; nothing is kept.

    Raises ``Invalid`` where the size or a day cannot be meant, or the formula cannot be worked out at all.
    """
    workshop, today = version.workshop, local_day(at, version.workshop.time_zone)
    day, size = clean_run_day(pour_on, today=today), clean_fats(fats_g)
    check_days(day, wanted_on, today=today)
    wanted = run_needs(version, size, at=at)
    held = hold_needs(workshop, wanted, day=day, at=at)
    shelf, ahead, places, why_no_days, why_no_places = read_shelf(workshop, today), None, None, "", ""
    try:
        ahead = pour_of(version, wanted.water_share, at=at, pour_on=day, wanted_on=wanted_on)
    except Invalid as refused:
        why_no_days = why_no_places = str(refused)
    if ahead is not None:
        try:
            places = places_ahead(cure=expect_cure(ahead=ahead, fats_g=size, pour_on=day, bars=bars), shelf=shelf)
        except Invalid as refused:
            if bars is not None:
                raise
            why_no_places = str(refused)
    count = bars if places is None else places.cure.bars
    return PlanAhead(
        held=held,
        ahead=ahead,
        why_no_days=why_no_days,
        places=places,
        why_no_places=why_no_places,
        cost=cost_of_run(held, wanted, bars=count),
        first_on=first_day_for_both(held, places, shelf, day, if_ordered=False),
        first_if_ordered_on=first_day_for_both(held, places, shelf, day, if_ordered=True),
    )


def first_day_for_both(
    held: Held, places: PlacesAhead | None, shelf: ShelfAhead, day: date, *, if_ordered: bool
) -> date | None:
    """Return the first day from *day* on, within four months, on which storeroom and racks both have what a run takes.

    Neither goes by "later is better": lots expire, and places are kept for other runs. Where nobody knows which
    places it needs, or no rack is drawn, the storeroom alone says.
    """
    latest, core = day + FARTHEST, shelf.shelf()
    needs_room = places is not None and bool(shelf.positions)
    while day <= latest:
        stocked = _stocked_from(held, day, if_ordered=if_ordered)
        if stocked is None or not needs_room:
            return stocked
        roomy = first_pour_with_room(cure=places.cure, shelf=core, from_day=stocked)
        if roomy is None or roomy == stocked:
            return roomy
        day = roomy
    return None


def _stocked_from(held: Held, day: date, *, if_ordered: bool) -> date | None:
    is_own = day.toordinal() == held.asked.run.day
    safe = held.found.safe if is_own else held.prospects_from(day)[1]
    found = safe.first_day_if_ordered_today if if_ordered else safe.first_day
    return None if found is None else date.fromordinal(found)
