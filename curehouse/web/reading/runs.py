"""What the pages of planned runs show: what is there for them, what is short and what to do, and when they can be poured."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import floor

from django.urls import reverse

from curehouse.common.time import day_words
from curehouse.common.units import show_at_least, show_at_most
from curehouse.core.stock.allocation import NOTHING
from curehouse.core.stock.netting import MaterialCheck, Prospect, RunMaterial
from curehouse.core.stock.stand_ins import Instead
from curehouse.core.stock.supplied import Taken
from curehouse.flows.check_run import Held, MovedRun, Shares, run_key
from curehouse.making.models import Run, RunChange, Unasked
from curehouse.web.access import Visit
from curehouse.web.forms.fields import exactly
from curehouse.web.forms.formula_lines import one_way
from curehouse.web.marks import Mark, mark_of
from curehouse.web.reading.amounts import roughly
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.free_words import free_words
from curehouse.web.reading.words import count
from inventory.models import Lot
from inventory.queries.orders import Arrival

MOST_OVER = 30


@dataclass(frozen=True, slots=True)
class MaterialLine:
    """One material of a run: how it stands, its figures in words, from which lots, and what to do where it is short."""

    name: str
    href: str
    mark: Mark
    takes: str
    figures: str
    lots: str
    remedy: str


@dataclass(frozen=True, slots=True)
class DayLine:
    """The first day on which a run can be poured, by one way of getting what it takes."""

    way: str
    likely: str
    safe: str
    href: str


@dataclass(frozen=True, slots=True)
class CheckView:
    """A run held against the storeroom."""

    mark: Mark
    says: str
    materials: list[MaterialLine]
    not_kept: list[str]
    days: list[DayLine]
    dayless: list[str]


@dataclass(frozen=True, slots=True)
class RunLine:
    """A run in the list."""

    name: str
    href: str
    note: str
    mark: Mark
    beside: Mark | None


class _Words:
    """Days, weights and lots as people in the workshop write them."""

    def __init__(self, visit: Visit, lots: Mapping[str, Lot], arrivals: Mapping[str, Arrival]) -> None:
        self.unit = visit.workshop.unit
        self.today = Calendar(visit.workshop, visit.at).today
        self._lots, self._arrivals = lots, arrivals

    def day(self, ordinal: int | None) -> str:
        return "" if ordinal is None else day_words(date.fromordinal(ordinal), today=self.today)

    def takes(self, takes: Sequence[Taken]) -> str:
        return ", then ".join(f"{self._supply(taken.supply)}: {show_at_least(taken.amount, self.unit)}" for taken in takes)

    def _supply(self, key: str) -> str:
        lot = self._lots.get(key)
        if lot is None:
            return str(self._arrivals[key].line.order)
        said = ["estimated"] if lot.is_estimated else []
        said += [f"best before {day_words(lot.best_before, today=self.today)}"] if lot.best_before else []
        return f"lot {lot.number}" + (f" ({', '.join(said)})" if said else "")


def read_check(visit: Visit, held: Held, *, day: date, href: Callable[[date], str]) -> CheckView:
    """Return a run that is not planned yet as its page shows it; *href* leads to it on another day."""
    words = _Words(visit, held.lots, held.arrivals)
    likely, safe = held.found.likely, held.found.safe
    on = day_words(day, today=words.today)
    return CheckView(
        mark=mark_of(held.standing),
        says=_check_says(held, on),
        materials=[_material(one, held, words, on) for one in held.found.materials],
        not_kept=[_not_kept(need, words.unit) for need in held.not_kept],
        days=_days(likely, safe, words, href),
        dayless=[f"{one.line.material}, {show_at_most(one.amount, words.unit)} of {one.line.order}" for one in held.dayless],
    )


def _check_says(held: Held, on: str) -> str:
    if held.standing == "short":
        short = sum(1 for one in held.found.materials if one.likely.short_g)
        return f"{count(short, 'material is', 'materials are')} short on {on}."
    if held.standing == "not_told":
        names = ", ".join(one.name for one in held.not_kept if one.amount_g is None)
        return f"No amount of {names} is told, so nobody can say whether it is there on {on}: see the formula first."
    if held.standing == "perhaps_short":
        return f"Enough for {on} if what is on its way comes on its likely day."
    return f"Everything that is kept in the storeroom is there on {on}."


def _material(one: MaterialCheck, held: Held, words: _Words, on: str) -> MaterialLine:
    material, unit = held.materials[one.material], words.unit
    own = [held.lots[taken.supply] for taken in one.likely.takes] if one.instead else _lots_of(one.material, held)
    likely = replace(one.likely, free_g=floor(one.likely.free_g * 10) / 10) if one.instead else one.likely
    figures = free_words(likely, one.safe, unit, by_eye=any(lot.is_estimated for lot in own))
    return MaterialLine(
        name=material.name,
        href=reverse("web:material", args=[material.pk]),
        mark=_standing(one.likely.short_g, one.safe.short_g),
        takes=_takes_instead(one.instead, one.likely.takes, held, unit) or show_at_least(one.likely.needed_g, unit),
        figures=f"of that lot {figures}" if one.instead else figures,
        lots="" if one.instead else words.takes(one.likely.takes),
        remedy=_remedy(
            _Lack(one.likely.short_g, one.safe.short_g, one.order_by, held.waiting.get(one.material, ())),
            words,
            on,
            later="pour later, make less",
        ),
    )


def _takes_instead(instead: Instead | None, takes: Sequence[Taken], there: Held | Shares, unit: str) -> str:
    """Say that a lot stands for a material; never how much of it to weigh: what is kept of it is a little more than that."""
    if instead is None:
        return ""
    name = there.materials[instead.material].name
    return (
        f"enough of lot {_numbers(takes, there)}, in place of all the {show_at_least(instead.amount_g, unit)} of {name} that "
        "would be weighed dry; how much of it to weigh, and how much water to leave out, the weighing sheet says, and nothing "
        "else. At the table dry lye alone is weighed: enter this batch from its sheet"
    )


def _numbers(takes: Sequence[Taken], there: Held | Shares) -> str:
    return ", ".join(str(there.lots[taken.supply].number) for taken in takes)


def _standing(likely_short: float, safe_short: float) -> Mark:
    return mark_of("short" if likely_short else "perhaps_short" if safe_short else "enough")


def _lots_of(material: str, held: Held) -> list[Lot]:
    return [lot for lot in held.lots.values() if str(lot.material_id) == material]


@dataclass(frozen=True, slots=True)
class _Lack:
    """What is short of a material, in grams, likely and safely; the last day to order it, and what waits in quarantine."""

    likely_g: float
    safe_g: float
    order_by: int | None
    waiting: Sequence[Lot]


def _rest_made_up(one: RunMaterial, unit: str) -> str:
    """Say how much of a blend its own lots do not give."""
    rest_g = one.needed_g - one.short_g - sum(taken.amount for taken in one.takes)
    return f"{show_at_least(rest_g, unit)} of it made up from its parts" if rest_g > NOTHING else ""


def _remedy(lack: _Lack, words: _Words, on: str, *, later: str) -> str:
    """Say what to do: as much as makes it safe, beside what is short if all goes well; *later*: what else there is to do."""
    if not lack.likely_g and not lack.safe_g:
        return ""
    lacking = show_at_least(max(lack.likely_g, lack.safe_g), words.unit)
    if not lack.likely_g:
        said = f"{lacking} of it may come too late for {on}: ask the supplier, or {later}."
    elif lack.order_by is None:
        said = (
            f"{lacking} more are needed. How long a delivery takes is not known: write down what a supplier sells of it "
            "and in how many days it comes."
        )
    elif lack.order_by < words.today.toordinal():
        said = f"{lacking} more are needed, and an order is safely here too late for {on}: {later}, or buy nearby."
    else:
        said = f"Order {lacking} or more by {words.day(lack.order_by)}: then it is safely here on {on}."
    if 0 < lack.likely_g < lack.safe_g:
        likely = show_at_least(lack.likely_g, words.unit)
        said += f" If what is on its way comes on its likely day, {likely} are enough."
    if lack.waiting:
        held = ((lot.number, show_at_most(lot.on_hand, words.unit), lot.is_estimated) for lot in lack.waiting)
        lots = ", ".join(f"lot {number} ({roughly(grams, is_estimate=by_eye)})" for number, grams, by_eye in held)
        said += f" Or release what waits in quarantine: {lots}."
    return said


def _not_kept(need: Unasked, unit: str) -> str:
    if need.amount_g is None:
        return f"{need.name}: no amount of it is told, for its formula's page says what to do first"
    if need.is_kept:
        return f"{need.name}, {show_at_least(need.amount_g, unit)}: it is counted in pieces"
    return f"{need.name}, {show_at_least(need.amount_g, unit)}: not kept in the storeroom"


def _days(likely: Prospect, safe: Prospect, words: _Words, href: Callable[[date], str]) -> list[DayLine]:
    ways = (
        ("With what is here and on its way", likely.first_day, safe.first_day),
        ("With an order today of what is short", likely.first_day_if_ordered_today, safe.first_day_if_ordered_today),
    )
    return [
        DayLine(
            way,
            words.day(first) or "not within four months",
            words.day(sure) or "not within four months",
            "" if sure is None else href(date.fromordinal(sure)),
        )
        for way, first, sure in ways
    ]


@dataclass(frozen=True, slots=True)
class RunView:
    """A planned run: what it gets, and what was said of it."""

    run: Run
    name: str
    day: str
    size: str
    typed_size: str
    announced: str
    mark: Mark
    is_planned: bool
    is_overdue: bool
    is_old_version: bool
    is_short: bool
    beside: Mark | None
    materials: list[MaterialLine]
    not_kept: list[str]
    changes: list[tuple[str, str]]


def read_run(visit: Visit, run: Run, shares: Shares | None, *, is_old_version: bool) -> RunView:
    """Return a run as its page shows it; *shares* where it is still planned."""
    calendar = Calendar(visit.workshop, visit.at)
    rows = RunChange.objects.within(visit.workshop).filter(run=run).select_related("by_user", "by_device", "version")
    return RunView(
        run=run,
        name=run.formula.name,
        day=day_words(run.pour_on, today=calendar.today),
        size=show_at_least(run.fats_g, visit.workshop.unit),
        typed_size=one_way(exactly(run.fats_g, visit.workshop.unit)),
        announced=day_words(run.announced_on, today=calendar.today),
        mark=mark_of(run.state),
        is_planned=run.state == Run.State.PLANNED,
        is_overdue=run.state == Run.State.PLANNED and run.pour_on < calendar.today,
        is_old_version=is_old_version,
        is_short=shares is not None and bool(shares.short_of(run)),
        beside=None if shares is None else mark_of(shares.standing(run)),
        materials=[] if shares is None else shared_lines(visit, run, shares, day=run.pour_on),
        not_kept=[] if shares is None else [_not_kept(one, visit.workshop.unit) for one in run.not_kept],
        changes=[_change(row, calendar, visit.workshop.unit) for row in rows.order_by("at", "pk")],
    )


def _change(row: RunChange, calendar: Calendar, unit: str) -> tuple[str, str]:
    said = f"{row.get_what_display()}, {calendar.moment(row.at)}, {row.signed_by}"
    if row.was_on is not None:
        days = f"from {day_words(row.was_on, today=calendar.today)} to {day_words(row.pour_on, today=calendar.today)}"
        return said, f"{days}{': ' if row.why else ''}{row.why}"
    if row.what in (RunChange.What.PLANNED, RunChange.What.RESERVED):
        # Of old changes nobody noted the size.
        size = "" if row.fats_g is None else f", {show_at_least(row.fats_g, unit)} of oils"
        version = "" if row.version is None else f", by version {row.version.number}"
        return said, f"for {day_words(row.pour_on, today=calendar.today)}{size}{version}"
    return said, row.why


def shared_lines(visit: Visit, run: Run, shares: Shares, *, day: date) -> list[MaterialLine]:
    """Return what a planned run gets of each material on its day, or on another it was held against."""
    words = _Words(visit, shares.lots, shares.arrivals)
    on = day_words(day, today=words.today)
    safe = {one.material: one for one in shares.safe if one.run == run_key(run)}
    found = []
    for one in shares.likely:
        # A blend of which nothing is there is but its parts.
        if one.run != run_key(run) or not (one.takes or one.short_g):
            continue
        safe_g = safe[one.material].short_g if one.material in safe else 0.0
        material, days = shares.materials[one.material], shares.delivery.get(one.material)
        lack = _Lack(
            likely_g=one.short_g,
            safe_g=safe_g,
            order_by=None if days is None else day.toordinal() - days.safe,
            waiting=[lot for lot in shares.waiting.get(one.material, ()) if not lot.best_before or lot.best_before >= day],
        )
        found.append(
            MaterialLine(
                name=material.name,
                href=reverse("web:material", args=[material.pk]),
                mark=_standing(one.short_g, safe_g),
                takes=_takes_instead(one.instead, one.takes, shares, words.unit) or show_at_least(one.needed_g, words.unit),
                figures=_rest_made_up(one, words.unit),
                lots="" if one.instead else words.takes(one.takes),
                remedy=_remedy(lack, words, on, later="move the run"),
            )
        )
    return sorted(found, key=lambda line: line.name)


@dataclass(frozen=True, slots=True)
class MovedView:
    """A planned run as it would stand on another day, and what other runs would lack by it."""

    mark: Mark
    on: str
    materials: list[MaterialLine]
    worse: list[str]


def read_moved(visit: Visit, run: Run, moved: MovedRun, *, day: date) -> MovedView:
    """Return what the page says before a run is moved."""
    today, unit = Calendar(visit.workshop, visit.at).today, visit.workshop.unit
    return MovedView(
        mark=mark_of(moved.shares.standing(run)),
        on=day_words(day, today=today),
        materials=shared_lines(visit, run, moved.shares, day=day),
        worse=[
            f"{other.formula.name} on {day_words(other.pour_on, today=today)}: {show_at_least(grams, unit)} of {material}"
            for other, material, grams in moved.worse
        ],
    )


def run_words(visit: Visit, run: Run) -> str:
    """Return what tells a run from others of its formula: its day, and how much."""
    day = day_words(run.pour_on, today=Calendar(visit.workshop, visit.at).today)
    return f"{day}, {show_at_least(run.fats_g, visit.workshop.unit)} of oils"


def run_lines(visit: Visit, runs: Iterable[Run], shares: Shares) -> list[RunLine]:
    """Return runs as their list shows them, with what is short of those that are planned."""
    calendar = Calendar(visit.workshop, visit.at)
    found = []
    for run in runs:
        note = run_words(visit, run)
        beside = None
        if run.state == Run.State.PLANNED:
            beside = mark_of(shares.standing(run))
            note += "".join(f"; {said}" for said in _lacking(run, shares))
            if run.pour_on < calendar.today:
                note += "; its day is past: move it, call it off or enter its batch"
        found.append(RunLine(run.formula.name, reverse("web:run", args=[run.pk]), note, mark_of(run.state), beside))
    return found


def _lacking(run: Run, shares: Shares) -> Iterator[str]:
    """Say what is short of a run, what cannot be told, and that its lye is not kept, each with the names."""
    short = shares.short_of(run)
    said = {
        "short": [material.name for material, likely_g, _safe_g in short if likely_g],
        "perhaps short": [material.name for material, likely_g, _safe_g in short if not likely_g],
        "cannot be told": [one.name for one in run.not_kept if one.amount_g is None],
        "not kept in the storeroom": [
            one.name for one in run.not_kept if one.is_lye and not one.is_kept and one.amount_g is not None
        ],
    }
    yield from (f"{what}: {', '.join(names)}" for what, names in said.items() if names)
