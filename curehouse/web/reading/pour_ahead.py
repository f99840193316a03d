"""Pours that are still to come, in words: when their bars are dry enough, and when to pour at the latest."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from math import ceil

from curehouse.common.time import day_words
from curehouse.core.planning.pour_day import SHARES
from curehouse.flows.pour_ahead import OwnCures, PourAhead
from curehouse.web.access import Visit
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.words import count, taught_words


@dataclass(frozen=True, slots=True)
class DayLine:
    """How sure one can be of a day; ``href`` leads to the check of a run poured on it."""

    sure: str
    day: str
    href: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class PourAheadView:
    """What is expected of a pour; the parts that were not asked for are empty."""

    dry: tuple[DayLine, ...]
    dry_says: str
    by: str
    latest: tuple[DayLine, ...]
    wanted: str
    own: str
    rests_on: str


def read_pour_ahead(
    visit: Visit, found: PourAhead, *, pour_on: date | None, wanted_on: date | None, href: Callable[[date], str]
) -> PourAheadView:
    """Return what is expected as the page shows it; *href* leads to the run on another day."""
    today = Calendar(visit.workshop, visit.at).today
    return PourAheadView(
        dry=() if pour_on is None else _dry(found, pour_on, today),
        dry_says="" if pour_on is None else _dry_says(found, pour_on, today),
        by="" if pour_on is None or wanted_on is None else _by(found, pour_on, wanted_on, today),
        latest=() if wanted_on is None else tuple(_latest(found, wanted_on, today, href)),
        wanted="" if wanted_on is None else day_words(wanted_on, today=today),
        own=_own(found.own, found, wanted_on, today),
        rests_on=_rests_on(found),
    )


def in_hundred(share: float) -> str:
    """Return a share as so many of a hundred batches; never all and never none of them."""
    return f"{min(max(round(100 * share), 1), 99)} of 100"


def _dry(found: PourAhead, pour_on: date, today: date) -> tuple[DayLine, ...]:
    lines = []
    for share in SHARES:
        day = found.dry_on(share, pour_on=pour_on)
        said = f"not within {_weeks(found)} weeks" if day is None else day_words(day, today=today)
        lines.append(DayLine(in_hundred(share), said))
    return tuple(lines)


def _weeks(found: PourAhead) -> int:
    return found.ready.last_day // 7


def _dry_says(found: PourAhead, pour_on: date, today: date) -> str:
    first, last = (found.dry_on(share, pour_on=pour_on) for share in (0.1, 0.9))
    poured = f"Poured {day_words(pour_on, today=today)} and cut {count(found.cut_after_days, 'day', 'days')} later"
    if first is None:
        return f"{poured}: of 10 such batches hardly one is dry enough within {_weeks(found)} weeks of the cut."
    if last is None:
        return f"{poured}: dry enough from {day_words(first, today=today)}, some not within {_weeks(found)} weeks of the cut."
    if first == last:
        return f"{poured}: 8 of 10 such batches are dry enough on {day_words(first, today=today)}."
    days = f"{day_words(first, today=today)} and {day_words(last, today=today)}"
    return f"{poured}: 8 of 10 such batches are dry enough between {days}."


def _by(found: PourAhead, pour_on: date, wanted_on: date, today: date) -> str:
    share = found.chance(pour_on=pour_on, wanted_on=wanted_on)
    if share == 0:
        return f"By {day_words(wanted_on, today=today)} none is: that is before the least age, or far too early."
    return f"By {day_words(wanted_on, today=today)} about {in_hundred(share)} are."


def _latest(found: PourAhead, wanted_on: date, today: date, href: Callable[[date], str]) -> list[DayLine]:
    lines = []
    for one in reversed(found.latest(wanted_on)):
        sure = in_hundred(one.share)
        if one.pour_on is None:
            lines.append(
                DayLine(sure, "no day is early enough", note=f"so many are not dry enough within {_weeks(found)} weeks")
            )
            continue
        day = date.fromordinal(one.pour_on)
        if day < today:
            lines.append(DayLine(sure, day_words(day, today=today), note="that day is over"))
            continue
        lines.append(DayLine(sure, day_words(day, today=today), href(day)))
    return lines


def _own(own: OwnCures, found: PourAhead, wanted_on: date | None, today: date) -> str:
    """Say what the formula's own cures took, and what they say of the next by themselves."""
    if not own.took:
        return ""
    days = f"{min(own.took)} to {max(own.took)} days" if min(own.took) < max(own.took) else f"{own.took[0]} days"
    said = f"{count(len(own.took), 'cure', 'cures')} of it that had their time took {days} from the cut"
    if own.never:
        return f"{said}; {count(own.never, 'other was', 'others were')} never found dry enough."
    if own.next is None:
        return f"{said}."
    needs = ceil(own.next.days_for(SHARES[-1]))
    said += f"; by them alone the next is over within {needs} days with a chance of {round(100 * SHARES[-1])} %"
    if wanted_on is None:
        return f"{said}."
    pour = date.fromordinal(wanted_on.toordinal() - found.cut_after_days - needs)
    return f"{said}: poured by {day_words(pour, today=today)}."


def _rests_on(found: PourAhead) -> str:
    return (
        f"Expected from {taught_words(found.cures)}, "
        f"for bars that are {round(100 * found.water_share)} % water when they are cut, by your rule. "
        "The first weighings tell more."
    )
