"""The weighings of one batch of a file: each once, none before the cut or after today."""

import uuid
from dataclasses import dataclass
from datetime import datetime

from curehouse.common.time import local_day
from curehouse.flows.bring_in.batch_moments import Clock, Weighed
from curehouse.flows.bring_in.batch_plan import BatchPlan
from curehouse.flows.bring_in.outcome import Findings

_NAMESPACE = uuid.UUID("5b1c57a3-6f0e-4b1a-9d0e-2f7d7c3a9e51")


@dataclass(frozen=True, slots=True)
class NewWeight:
    """A weighing to be written; its id is made of what tells it from all others, so that it is written once."""

    weighed: Weighed
    client_id: uuid.UUID


def each_once(
    plan: BatchPlan, weights: list[Weighed], *, cut_at: datetime, clock: Clock, workshop_id: int, findings: Findings
) -> list[NewWeight]:
    """Return the weighings of a batch, each once; what cannot be is refused."""
    first: dict[tuple[str, str], Weighed] = {}
    for one in weights:
        key = (one.plan.bar.casefold(), one.said)
        twin = first.get(key)
        if twin is None:
            if _is_possible(plan, one, cut_at=cut_at, clock=clock):
                first[key] = one
        elif twin.plan.weight_g != one.plan.weight_g:
            row = twin.plan.row.number
            said = f"is another weight of bar {one.plan.bar} on the same day than in row {row}: keep one of them"
            plan.table.refuse(one.plan.row, "weight", said)
        else:
            findings.remark("Some rows stand in the file twice; they count once.")
    mark = plan.mark.casefold()
    return [NewWeight(one, _client_id(workshop_id, mark, bar, said)) for (bar, said), one in first.items()]


def _is_possible(plan: BatchPlan, one: Weighed, *, cut_at: datetime, clock: Clock) -> bool:
    key = "weighed_on" if one.plan.on is not None else "day"
    if one.moment > clock.at:
        plan.table.refuse(one.plan.row, key, "lies in the future: check the day, and the date of the cut")
        return False
    if local_day(one.moment, clock.time_zone) < local_day(cut_at, clock.time_zone):
        plan.table.refuse(one.plan.row, key, f"comes before the cut of {plan.mark}: check both dates")
        return False
    return True


def _client_id(workshop_id: int, *parts: str) -> uuid.UUID:
    return uuid.uuid5(_NAMESPACE, "\n".join((str(workshop_id), *parts)))
