"""Runs side by side: of each what its own page says in short."""

from dataclasses import dataclass

from curehouse.common.time import day_words
from curehouse.flows.plan_ahead import PlanAhead
from curehouse.web.access import Visit
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.plan import AskedPlan, InShort, read_plan


@dataclass(frozen=True, slots=True)
class Compared:
    """One of the runs, with where its own page is."""

    name: str
    href: str
    in_short: tuple[InShort, ...]


def read_compared(visit: Visit, found: PlanAhead, asked: AskedPlan) -> Compared:
    """Return a run as it stands beside others."""
    today = Calendar(visit.workshop, visit.at).today
    name = f"{asked.version.formula}, {day_words(asked.pour_on, today=today)}"
    return Compared(name, asked.href(asked.pour_on), read_plan(visit, found, asked).in_short)
