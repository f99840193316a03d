"""The page of a run that may be planned: what it meets on its day, in short and part by part."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from urllib.parse import urlencode

from django.urls import reverse

from curehouse.common.time import day_words
from curehouse.common.units import show_at_least
from curehouse.flows.plan_ahead import PlanAhead
from curehouse.flows.pour_ahead import PourAhead
from curehouse.flows.run_costs import RunCost
from curehouse.making.models import FormulaVersion
from curehouse.web.access import Visit
from curehouse.web.marks import Mark
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.pour_ahead import DayLine, PourAheadView, read_pour_ahead
from curehouse.web.reading.run_places import PlacesView, read_places
from curehouse.web.reading.runs import CheckView, read_check
from curehouse.web.reading.words import count
from curehouse.workshops.roles import Right

_NO_DAY = "not within four months"


@dataclass(frozen=True, slots=True)
class AskedPlan:
    """What was typed, as links to other days carry it along."""

    version: FormulaVersion
    fats_g: str
    bars: str
    pour_on: date | None
    wanted_on: date | None

    def href(self, pour_on: date) -> str:
        """Return the page of the same run on another day."""
        said = {
            "fats_g": self.fats_g,
            "bars": self.bars,
            "pour_on": pour_on.isoformat(),
            "wanted_on": "" if self.wanted_on is None else self.wanted_on.isoformat(),
        }
        return f"{reverse('web:version_run', args=[self.version.pk])}?{urlencode({k: v for k, v in said.items() if v})}"

    def beside_href(self) -> str:
        """Return the page that lays it beside other runs."""
        said = {
            "0-version": str(self.version.pk),
            "0-fats_g": self.fats_g,
            "0-bars": self.bars,
            "0-pour_on": "" if self.pour_on is None else self.pour_on.isoformat(),
            "wanted_on": "" if self.wanted_on is None else self.wanted_on.isoformat(),
        }
        return f"{reverse('web:compare_runs')}?{urlencode({k: v for k, v in said.items() if v})}"


@dataclass(frozen=True, slots=True)
class InShort:
    """One thing about the run in a sentence, with the part of the page that says more."""

    name: str
    says: str
    href: str
    mark: Mark | None = None


@dataclass(frozen=True, slots=True)
class CostRow:
    """What goes in of one material and what that costs."""

    name: str
    takes: str
    cost: str


@dataclass(frozen=True, slots=True)
class CostView:
    """What a bar costs, and what is not in it."""

    says: str
    currency: str
    lines: tuple[CostRow, ...]
    without: str


@dataclass(frozen=True, slots=True)
class PlanView:
    """Everything on the page below its form; without a day to pour on only the days to pour by."""

    wanted: str
    latest: tuple[DayLine, ...]
    rests_on: str
    own: str
    on: str = ""
    in_short: tuple[InShort, ...] = ()
    check: CheckView | None = None
    places: PlacesView | None = None
    why_no_places: str = ""
    dry: tuple[DayLine, ...] = ()
    dry_says: str = ""
    by: str = ""
    why_no_days: str = ""
    cost: CostView | None = None
    first: tuple[DayLine, ...] = ()
    compare_href: str = ""


def read_backwards(visit: Visit, found: PourAhead, asked: AskedPlan) -> PlanView:
    """Return the days to pour on for bars that are wanted by a day."""
    days = _days(visit, found, asked)
    return PlanView(days.wanted, days.latest, days.rests_on, days.own)


def _days(visit: Visit, found: PourAhead, asked: AskedPlan) -> PourAheadView:
    return read_pour_ahead(visit, found, pour_on=asked.pour_on, wanted_on=asked.wanted_on, href=asked.href)


def read_plan(visit: Visit, found: PlanAhead, asked: AskedPlan) -> PlanView:
    """Return what the run meets on the day to pour on."""
    today, day = Calendar(visit.workshop, visit.at).today, asked.pour_on
    check = read_check(visit, found.held, day=day, href=asked.href)
    days = None if found.ahead is None else _days(visit, found.ahead, asked)
    places = None if found.places is None else read_places(visit, found.places)
    cost = _cost(found.cost, visit) if visit.may(Right.SEE_COSTS) else None
    first = tuple(_first(found, asked, today))
    shorts = [
        InShort("Storeroom", check.says, "#what-is-there", check.mark),
        InShort("Racks", _room_says(found, places), "#where-it-stands", None if places is None else places.mark),
        InShort("Dry enough", found.why_no_days if days is None else f"{days.dry_says} {days.by}".strip(), "#dry-enough"),
    ]
    if cost is not None:
        shorts.append(InShort("Cost", cost.says, "#cost"))
    shorts.append(InShort("First day for all of it", first[0].day, "#first-day"))
    return PlanView(
        wanted="" if days is None else days.wanted,
        latest=() if days is None else days.latest,
        rests_on="" if days is None else days.rests_on,
        own="" if days is None else days.own,
        on=day_words(day, today=today),
        in_short=tuple(shorts),
        check=check,
        places=places,
        why_no_places=found.why_no_places,
        dry=() if days is None else days.dry,
        dry_says="" if days is None else days.dry_says,
        by="" if days is None else days.by,
        why_no_days=found.why_no_days,
        cost=cost,
        first=first,
        compare_href=asked.beside_href(),
    )


def _room_says(found: PlanAhead, places: PlacesView | None) -> str:
    if places is None:
        return found.why_no_places
    return " ".join(places.trouble) or f"There is room. {places.says}"


def _first(found: PlanAhead, asked: AskedPlan, today: date) -> Iterator[DayLine]:
    """Return the first days on which storeroom and racks both have what it takes."""
    both = "everything is safely there and all bars have a place"
    if found.places is None or not found.places.shelf.positions:
        both = "everything is safely there; of places nothing can be told"
    for way, day in (
        ("With what is here and on its way, and room", found.first_on),
        ("With an order today, and room", found.first_if_ordered_on),
    ):
        if day is None:
            yield DayLine(way, _NO_DAY)
        else:
            on = day_words(day, today=today)
            yield DayLine(way, f"{on}: {both}", "" if day == asked.pour_on else asked.href(day))


def _cost(cost: RunCost, visit: Visit) -> CostView:
    unit, money = visit.workshop.unit, visit.workshop.currency
    missing = [*cost.unknown, *(f"{show_at_least(grams, unit)} of {name} that is short" for name, grams in cost.short_g)]
    if cost.total is None:
        says = "What it costs is not known: no lot that it would take has a cost written down."
    elif cost.a_bar is None:
        says = f"{cost.total} {money} in all; how many bars that makes is not known."
    else:
        says = f"{cost.a_bar} {money} a bar, {cost.total} {money} in all"
        says += f", {count(len(missing), 'thing', 'things')} not in it." if missing else "."
    return CostView(
        says=says,
        currency=money,
        lines=tuple(
            CostRow(
                line.name,
                "by the sheet" if line.stands_in else show_at_least(line.amount_g, unit),
                "not known" if line.cost is None else f"{line.cost:.2f}",
            )
            for line in cost.lines
        ),
        without=f"Not in it: {'; '.join(missing)}." if missing else "",
    )
