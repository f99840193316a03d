"""What stands between a batch in cure and anybody's hands: said before anything that is foretold of it."""

from curehouse.curing.models import Cure, Forecast, LabelWeight
from curehouse.curing.models.verdicts import State
from curehouse.making.leaving import Obstacle, obstacles

TOO_SOFT = "too_soft"


def obstacles_of(row: Cure | Forecast | LabelWeight) -> tuple[Obstacle, ...]:
    """Return what stands in the way of a batch's bars, the gravest first; *row* is fetched with obstacles.

    A batch that was measured too soft is so until a weighing says otherwise.
    """
    cure = row if isinstance(row, Cure) else row.batch.cure
    if cure.ended_at is not None:
        return ()
    found = obstacles(row.batch, last_check_passed=row.last_check_passed, hold_cause=row.hold_cause)
    last = row.last_measured if cure.state == State.NOT_WEIGHED else cure.state
    if last != State.TOO_SOFT:
        return found
    return (*found, Obstacle(TOO_SOFT, f"{row.batch} is too soft as measured: weigh and press it again before its bars leave."))
