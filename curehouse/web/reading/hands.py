"""In which order batches need a hand: the one order of Today and of the racks."""

from collections.abc import Iterable
from datetime import date, timedelta

from curehouse.core.cure.past_told import LIKELY_SOFT
from curehouse.curing.models import Cure
from curehouse.curing.models.verdicts import State
from curehouse.curing.outlook import TO_COME, latest_has_passed
from curehouse.web.reading.days import Calendar

# Before all of them comes a check that failed. What is in doubt holds everything else up; then what can leave, what has
# gone wrong, what nobody looked at.
FIRST = (State.LOOK_AGAIN, State.READY, State.CHECK_DUE, State.TOO_SOFT, State.NOT_WEIGHED)
_FAR = date.max


def is_due(cure: Cure, today: date) -> bool:
    """Return whether a batch's sample bars are to be weighed."""
    return cure.due_on is not None and cure.due_on <= today


def failed(cure: Cure) -> bool:
    """Return whether the last safety check failed of a batch that cures (with obstacles)."""
    return cure.last_check_passed is False


def needs_a_hand(cure: Cure) -> bool:
    """Return whether somebody is to look at it, whatever day it is."""
    return failed(cure) or cure.state in FIRST


def may_stay_soft(cure: Cure, calendar: Calendar) -> bool:
    """Return whether a batch that cures (its forecast at hand) is foretold to stay too soft, and there is time to act."""
    if cure.forecast is None or cure.state not in TO_COME:
        return False
    cut_on, latest_day = calendar.day_of(cure.batch.cut_at), cure.forecast.asked["rule"]["latest_day"]
    is_likely = cure.forecast.foretold["soft_probability"] >= LIKELY_SOFT
    return is_likely and not latest_has_passed(cut_on, latest_day=latest_day, today=calendar.today)


def weigh_words(cure: Cure, today: date) -> str:
    """Return that a batch is to be weighed, or nothing."""
    return "to be weighed" if is_due(cure, today) else ""


def in_hand_order(cures: Iterable[Cure], calendar: Calendar) -> list[Cure]:
    """Return batches in cure (with forecasts and obstacles) by what they need.

    What needs a hand, what may stay too soft, what is to be weighed, what is dry soonest.
    """

    def place(cure: Cure) -> tuple[int, date, int]:
        if needs_a_hand(cure):
            return 0 if failed(cure) else 1 + FIRST.index(State(cure.state)), _FAR, cure.batch.number
        after = 0 if may_stay_soft(cure, calendar) else 1 if is_due(cure, calendar.today) else 2
        return 1 + len(FIRST) + after, likely_ready_on(cure, calendar), cure.batch.number

    return sorted(cures, key=place)


def likely_ready_on(cure: Cure, calendar: Calendar) -> date:
    """Return the day by which half of such batches are ready; the last there is where nothing is foretold."""
    if cure.forecast is None:
        return _FAR
    ready, rule = cure.forecast.foretold["ready_day"], cure.forecast.asked["rule"]
    if ready["p50"] >= rule["horizon_days"]:
        return _FAR
    return calendar.day_of(cure.batch.cut_at) + timedelta(days=round(ready["p50"]))
