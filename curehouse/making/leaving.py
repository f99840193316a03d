"""What keeps a batch's bars in the house: one rule for the take-out, for labels, and for all that is said of bars to come."""

from dataclasses import dataclass

from curehouse.making.models import Batch, BatchHold, SafetyCheck

CHECK_FAILED, CHECK_NEEDED, HELD = "check_failed", "check_needed", "held"
# What a person found; a check that is still to come is only to be made in time.
GO_TO_NOBODY = frozenset({CHECK_FAILED, HELD})


@dataclass(frozen=True, slots=True)
class Obstacle:
    """What stands in the way of bars, and in a sentence what to do about it."""

    code: str
    says: str


def obstacles(batch: Batch, *, last_check_passed: bool | None, hold_cause: str | None) -> tuple[Obstacle, ...]:
    """Return what keeps bars of *batch* from anybody, the gravest first; *hold_cause* is that of a hold that stands."""
    found = []
    if last_check_passed is False:
        says = (
            "The last safety check failed, so these bars go to nobody: test again after a week or more, rework or destroy them."
        )
        found.append(Obstacle(CHECK_FAILED, says))
    if batch.needs_check and last_check_passed is None:
        by_what = "its formula" if batch.check_by_formula else "the lots it took"
        says = f"{batch} may be caustic by {by_what}: pass its safety check before bars leave, or destroy them."
        found.append(Obstacle(CHECK_NEEDED, says))
    if hold_cause is not None:
        found.append(Obstacle(HELD, f"{batch} is held: {hold_cause}. Lift the hold with a reason, or destroy the bars."))
    return tuple(found)


def obstacles_now(batch: Batch) -> tuple[Obstacle, ...]:
    """Return what keeps bars of *batch* from anybody (two queries)."""
    newest = SafetyCheck.objects.within(batch.workshop).filter(batch=batch).newest_first().first()
    hold = BatchHold.objects.within(batch.workshop).filter(batch=batch).standing().first()
    return obstacles(batch, last_check_passed=newest and newest.passed, hold_cause=hold and hold.cause)
