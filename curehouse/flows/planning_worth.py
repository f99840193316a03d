"""What planning runs earlier would be worth here, by how long before their day past pours were planned."""

import logging
from dataclasses import dataclass
from datetime import datetime
from statistics import median

from curehouse.common.errors import FAULTS
from curehouse.core.stock.reorder.earlier import LEAST_USES, Notices, Worth, bought_of, mean_day, worth_of_earlier
from curehouse.flows.reorder_room import read_room
from curehouse.flows.waiting_costs import WaitingCosts
from curehouse.workshops.models import Workshop

logger = logging.getLogger(__name__)

EARLIER_DAYS = (7, 14, 21)
# Fewer tell neither how early runs are planned nor what a year takes (our own choice, no source).
LEAST_POURS = 10
# Where so much of what the earliest gains is gained already, it is not worth asking for more.
MOST_OF_IT = 0.9


@dataclass(frozen=True, slots=True)
class PlanningWorth:
    """What it is worth a year to plan so many days earlier; nothing of it where something is ``missing``, said in words.

    ``pours``: of the last year, entered here and not brought in; ``planned``: those of them that were planned before
    their day, in the median ``median_days`` before. ``materials``: of the ``used`` ones those it was worked out for.
    """

    pours: int
    planned: int
    median_days: float | None
    materials: int
    used: int
    worths: tuple[Worth, ...]
    waiting: WaitingCosts
    missing: tuple[str, ...]

    @property
    def best(self) -> Worth | None:
        """Return the least that gains most of what can be gained."""
        most = max((one.a_year for one in self.worths), default=0.0)
        enough = (one for one in self.worths if one.a_year >= MOST_OF_IT * max(most, 0.0))
        # Where none gains anything, the one that loses least: it is told that hardly anything is gained.
        return next(enough, max(self.worths, key=lambda one: one.a_year, default=None))


def planning_worth(*, workshop: Workshop, at: datetime) -> PlanningWorth:
    """Work it out; as many queries however much there is."""
    room = read_room(workshop=workshop, at=at)
    past, costs = room.past, room.waiting.costs
    notices = past.notices
    planned = [days for days in notices if days > 0]
    bought = bought_of(room.kept, room.sellers, past.season, costs, usual_rate=past.mean_rate)
    missing = []
    if len(notices) < LEAST_POURS:
        missing.append(f"{LEAST_POURS} pours that were entered here; so far there are {len(notices)}")
    if not bought:
        missing.append(f"a material that was used {LEAST_USES} times or more and keeps, with what a supplier asks for it")
    worths: list[Worth] = []
    if not missing:
        told = Notices(notices, past.others)
        try:
            worths = worth_of_earlier(bought, told, EARLIER_DAYS, costs=costs, a_day=mean_day(past.season))
        except FAULTS:
            logger.exception("planning earlier not worked out: workshop=%s", workshop.pk)
            missing.append("figures that can be worked out together, and these cannot: they are in the log")
    return PlanningWorth(
        pours=len(notices),
        planned=len(planned),
        median_days=median(planned) if planned else None,
        materials=len(bought),
        used=sum(1 for one in room.kept if one.uses),
        worths=tuple(worths),
        waiting=room.waiting,
        missing=tuple(missing),
    )
