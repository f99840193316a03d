"""What to do next."""

from .causes import cause_reasons, causes, remedies_next, remedies_now
from .findings import Findings, find
from .rule import BatchAtMoment, CheckOutcome, RuleLimits, State
from .words import number_exact, unbroken

WEEK_DAYS = 7
CHECK_WHAT_WENT_IN = "Check the fats, liquids and water share as entered, and the weighings, before you go by this verdict."
WEIGH_AGAIN = "Weigh the sample bars again: each dry, by its own letter, with nothing else on the scale."
ON_NEXT_ROUND = "Weigh it on the next round that lists it"
AFTER_FAILED_CHECK = "Test again after a week or more, rework or destroy."


def advice(batch: BatchAtMoment, limits: RuleLimits, found: Findings) -> tuple[str, ...]:
    """Say what to do next about a batch in the state that was found."""
    steps = {
        State.NOT_WEIGHED: _when_not_weighed,
        State.TOO_SOFT: _when_too_soft,
        State.CHECK_DUE: _when_check_due,
        State.READY: _when_ready,
        State.CURING: _when_curing,
    }[found.state](batch, limits, found)
    if batch.check is CheckOutcome.FAILED:
        steps = (AFTER_FAILED_CHECK, *steps)
    return steps


def _when_not_weighed(batch: BatchAtMoment, limits: RuleLimits, found: Findings) -> tuple[str, ...]:
    return ("Weigh the sample bars.",)


def _when_ready(batch: BatchAtMoment, limits: RuleLimits, found: Findings) -> tuple[str, ...]:
    if found.water_impossible:
        return (CHECK_WHAT_WENT_IN, "Where they are right, it can leave the cure; left on the rack it dries on slowly.")
    return ("Take it out of the cure when you want it; left on the rack it dries on slowly.",)


def _when_check_due(batch: BatchAtMoment, limits: RuleLimits, found: Findings) -> tuple[str, ...]:
    if batch.check is CheckOutcome.FAILED:
        return ()
    first = (CHECK_WHAT_WENT_IN,) if found.water_impossible else ()
    return (*first, "Do the safety check by your own written limit; it is ready once a person passes it.")


def _when_curing(batch: BatchAtMoment, limits: RuleLimits, found: Findings) -> tuple[str, ...]:
    if not batch.bars:
        return ("Mark three to five bars as sample bars and weigh them.",)
    if batch.newest_weighing_day is None:
        return ("Weigh the sample bars; the first weighing belongs on the day of the cut.",)
    if found.weekly_loss_pct is None:
        return (_until_weekly_loss(found),)
    if found.scale_hides_loss:
        return (_finer_scale(limits),)
    if found.gained_too_much:
        return (*_to_know_water(batch, limits, found), WEIGH_AGAIN)
    if found.loss_small and found.water_low:
        return (f"Leave it until day {limits.min_days} and weigh it every week.",)
    again = "Weigh the sample bars now." if found.days_since_weighed >= WEEK_DAYS else f"{ON_NEXT_ROUND}."
    return (*_to_know_water(batch, limits, found), again)


def _until_weekly_loss(found: Findings) -> str:
    # Past its latest day a batch waits for nothing but this figure.
    if found.days_since_weighed > WEEK_DAYS or (found.past_latest and found.days_since_weighed > 0):
        return "Weigh the sample bars now and again in a week; then the weekly loss is known."
    return f"{ON_NEXT_ROUND}; the weekly loss is known once its weighings reach a week back."


def _to_know_water(batch: BatchAtMoment, limits: RuleLimits, found: Findings) -> tuple[str, ...]:
    """Say how the water left can be known where a limit of it waits for that."""
    if limits.water_left_limit_pct is None:
        return ()
    if found.water_impossible:
        return (CHECK_WHAT_WENT_IN,)
    if found.water_left_pct is not None:
        return ()
    if batch.water_share is None:
        return ("Enter the batch's liquids or its water share.",)
    return (
        "If a weight from the day of the cut is on paper, enter it with its day; otherwise go by the weekly loss and "
        "the thumb, and give that as the reason when you take it out.",
    )


def _finer_scale(limits: RuleLimits) -> str:
    finest = number_exact(2 * limits.weekly_loss_limit_pct)
    return f"Weigh the sample bars on a finer scale, now and in a week: its step must be {finest} % of a bar or less."


def _when_too_soft(batch: BatchAtMoment, limits: RuleLimits, found: Findings) -> tuple[str, ...]:
    known = causes(batch, found)
    steps = list(remedies_now(known, found))
    if found.scale_hides_loss:
        steps.append(_finer_scale(limits))
    if found.dry_enough:
        steps.append("Press again at each weighing and note whether it dents, gives or is firm.")
    return (*steps, *remedies_next(batch, known, found))


def early_advice(batch: BatchAtMoment, limits: RuleLimits) -> tuple[str, ...]:
    """Say of a batch that may stay too soft what its figures show, and what to do while there is time."""
    found = find(batch, limits)
    known = causes(batch, found)
    said = tuple(unbroken(reason.text) for reason in cause_reasons(batch, found))
    if not any(cause.next_time for cause in known):
        return (*said, *remedies_next(batch, known, found), *remedies_now(known, found))
    return (*said, *remedies_now(known, found), *remedies_next(batch, known, found))
