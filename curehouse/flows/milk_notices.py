"""What the house says of the milk of planned runs: freeze it a day or two before the pour, take it out on the day.

These notices are locked after those of places and before all others. A run that is moved, called off or poured takes
its own along.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction

from curehouse.common.errors import Invalid
from curehouse.common.locking import lock_rows
from curehouse.common.time import day_words, local_day
from curehouse.common.units import show_at_least
from curehouse.core.chemistry.liquids import LiquidKind
from curehouse.making.formulas.entries import GoesIn, Role
from curehouse.making.formulas.reading import kept
from curehouse.making.formulas.sizes import Size, in_size
from curehouse.making.models import Run
from curehouse.making.services.formulas import plan
from curehouse.notices.kinds import Kind
from curehouse.notices.models import Notice
from curehouse.notices.services import end_episode, tell, withdraw
from curehouse.workshops.models import Workshop

# Beside the notices stand these marks.
FREEZE, TAKE_OUT = "milk_freeze", "milk_out"
# Milk in front wants a night in the freezer, and a day on which to put it there (common practice, no source).
_FREEZE_AHEAD = timedelta(days=2)
_MILKS = frozenset({LiquidKind.MILK, LiquidKind.PLANT_MILK})


@dataclass(frozen=True, slots=True)
class Milk:
    """So many grams of a milk of a run; ``in_front`` it meets the lye, and is frozen for that."""

    name: str
    mass_g: Decimal
    in_front: bool


@transaction.atomic
def renew_milk(*, workshop: Workshop, at: datetime) -> None:
    """Make the notices about milk true, and tell of runs whose days have come."""
    told = Notice.objects.within(workshop).of_kind(Kind.MILK).episode_goes_on()
    known = {row.about: row for row in lock_rows(told, told.order_by().values_list("pk", flat=True)).values()}
    today = local_day(at, workshop.time_zone)
    runs = Run.objects.within(workshop).named().planned()
    near = list(runs.filter(pour_on__gte=today, pour_on__lte=today + _FREEZE_AHEAD).soonest_first())
    wanted = {thing: (run, mark, milks) for run in near for thing, mark, milks in _wanted(run, today, at=at)}
    for thing in sorted(known.keys() - wanted.keys()):
        if known[thing].state == Notice.State.OPEN:
            withdraw(workshop=workshop, about=thing, kinds=[Kind.MILK], reason=_why_over(known[thing], today), at=at)
        end_episode(notice=known[thing])
    for thing in sorted(wanted.keys() - known.keys()):
        run, mark, milks = wanted[thing]
        _tell(workshop, thing, run, mark, milks, at=at)


def _wanted(run: Run, today: date, *, at: datetime) -> Iterator[tuple[str, str, list[Milk]]]:
    """Return what is to be told of a run today, if anything: what it is about, its mark and the milk."""
    milks = milks_of(run, at=at)
    mark = TAKE_OUT if run.pour_on == today else FREEZE
    about = [one for one in milks if one.in_front] if mark == FREEZE else milks
    if about:
        yield f"run:{run.pk}:{mark}:{run.pour_on.isoformat()}", mark, about


def milks_of(run: Run, *, at: datetime) -> list[Milk]:
    """Return the milks of a run in its size; none where its formula cannot be worked out, for its page says what to do."""
    try:
        one = in_size(plan(workshop=run.workshop, entry=kept(run.version).entry, at=at), Size(fats_g=run.fats_g))
    except Invalid:
        return []
    lines = zip(one.entry.lines, one.masses_g, strict=True)
    liquids = ((line, mass_g) for line, mass_g in lines if line.role == Role.LIQUID and mass_g > 0)
    return [
        Milk(line.name, mass_g, line.goes_in == GoesIn.FRONT)
        for line, mass_g in liquids
        if one.known.liquid_kind(line) in _MILKS
    ]


def _why_over(notice: Notice, today: date) -> str:
    run = Run.objects.within(notice.workshop).get(pk=int(notice.about.split(":")[1]))
    if run.state != Run.State.PLANNED:
        return f"It is {run.get_state_display()}."
    if run.pour_on < today:
        return "Its day has passed."
    return f"Its day is {day_words(run.pour_on, today=today)}."


def _tell(workshop: Workshop, thing: str, run: Run, mark: str, milks: Iterable[Milk], *, at: datetime) -> None:
    today = local_day(at, workshop.time_zone)
    amounts = " and ".join(f"{show_at_least(one.mass_g, workshop.unit)} of {one.name}" for one in milks)
    day = day_words(run.pour_on, today=today)
    if mark == FREEZE:
        title = f"Freeze the milk for {run.formula.name}, poured {day}"
        body = f"{amounts}: weigh it out and freeze it flat or in cubes, so that the lye can go onto it slowly and stay cold."
    else:
        title = f"Take out the milk for {run.formula.name}, poured today"
        body = "\n".join([f"{amounts}.", *_on_the_day(milks)])
    tell(
        workshop=workshop,
        key=f"{Kind.MILK}:{thing}",
        kind=Kind.MILK,
        about=thing,
        mark=mark,
        title=title,
        body=body,
        path=f"/runs/{run.pk}/",
        at=at,
    )


def _on_the_day(milks: Iterable[Milk]) -> Iterator[str]:
    """Say when each is wanted: what meets the lye still frozen, what goes in at trace no longer cold (common practice)."""
    front = [one.name for one in milks if one.in_front]
    trace = [one.name for one in milks if not one.in_front]
    if front:
        yield f"In front, still frozen, when you begin: {', '.join(front)}."
    if trace:
        yield f"At trace, no longer icy, so take it out in good time: {', '.join(trace)}."
