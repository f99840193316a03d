"""What to do next, and what a soft batch's own figures say about the cause."""

from dataclasses import dataclass

from .findings import Findings
from .rule import BatchAtMoment, CheckOutcome, EffectiveSuperfat, Figure, Reason, RuleLimits, State
from .words import listed, number, number_exact

# Common practice, no source: liquid is 28-38 % of the fats, the cut comes after 1-3 days.
MOST_LIQUID_PCT = 38.0
LEAST_HOURS_TO_CUT = 24.0
# 38 g of water with 100 g of fats and about 14 g of lye: 38 / 152.
MOST_WATER_SHARE = 0.25
# Common practice, no source: with about so much fat left over a bar stays soft.
SOFT_SUPERFAT_PCT = 8.0
MOST_SAID_HOURS = 48.0
WEEK_DAYS = 7
# A share that is a bound to the maker is not always one to a float.
_NOISE = 1e-9

DRIER = "Leave it on the rack with air on all sides, in a drier and warmer room, and weigh it every week."
CHECK_WHAT_WENT_IN = "Check the fats, liquids and water share as entered, and the weighings, before you go by this verdict."
WEIGH_AGAIN = "Weigh the sample bars again: each dry, by its own letter, with nothing else on the scale."
ON_NEXT_ROUND = "Weigh it on the next round that lists it"
AFTER_FAILED_CHECK = "Test again after a week or more, rework or destroy."


@dataclass(frozen=True, slots=True)
class Cause:
    """A cause that an entered figure supports, and what to change next time."""

    reason: Reason
    next_time: str


def causes(batch: BatchAtMoment) -> tuple[Cause, ...]:
    """Name the causes of softness that the batch's own figures support; often none."""
    found = []
    liquid_pct, share, hours = batch.liquid_pct_of_fats, batch.water_share, batch.cut_after_hours
    if liquid_pct is not None and liquid_pct > MOST_LIQUID_PCT:
        text = f"Its liquid was {number(liquid_pct)} % of the fats; 28 to 38 % is usual."
        reason = Reason("cause_liquid", text, (Figure("liquid_of_fats", liquid_pct, "%"),))
        found.append(Cause(reason, "Next time plan less liquid: 28 to 38 % of the fats is usual."))
    elif share is not None and share > MOST_WATER_SHARE:
        text = f"{number(100 * share)} % of the fresh bar was water; usual recipes stay under 25 %."
        reason = Reason("cause_water_share", text, (Figure("water_share", 100 * share, "%"),))
        found.append(Cause(reason, "Next time plan less liquid."))
    if hours is not None and hours < LEAST_HOURS_TO_CUT:
        text = f"Cut after {_span(hours)}; one to three days is usual."
        reason = Reason("cause_cut_early", text, (Figure("cut_after", hours, "h"),))
        found.append(Cause(reason, "Next time cut after one to three days."))
    if batch.superfat is not None and _may_soften(batch.superfat):
        found.append(_superfat_cause(batch.superfat))
    return tuple(found)


def nothing_unusual(batch: BatchAtMoment) -> Reason:
    """Say which figures were looked at for a cause, and that none of them is out of the ordinary."""
    liquid_pct, share, hours = batch.liquid_pct_of_fats, batch.water_share, batch.cut_after_hours
    seen: list[str] = []
    figures: list[Figure] = []
    if liquid_pct is not None:
        seen.append(f"liquid at {number(liquid_pct)} % of the fats")
        figures.append(Figure("liquid_of_fats", liquid_pct, "%"))
    if share is not None:
        seen.append(f"water at {number(100 * share)} % of the fresh bar")
        figures.append(Figure("water_share", 100 * share, "%"))
    if hours is not None:
        seen.append(f"the cut after {_span(hours)}")
        figures.append(Figure("cut_after", hours, "h"))
    if batch.superfat is not None:
        seen.append(f"an effective superfat of {_superfat(batch.superfat)}")
        figures.extend(_superfat_figures(batch.superfat))
    if not seen:
        return Reason("no_cause", "Its liquid, its water share and the time to its cut are not on record: no cause shows.")
    return Reason("no_cause", f"Looked at and not unusual: {listed(seen)}.", tuple(figures))


def _may_soften(superfat: EffectiveSuperfat) -> bool:
    most = superfat.middle_pct if superfat.high_pct is None else superfat.high_pct
    return most >= SOFT_SUPERFAT_PCT - _NOISE


def _superfat_cause(superfat: EffectiveSuperfat) -> Cause:
    is_middle = superfat.middle_pct >= SOFT_SUPERFAT_PCT - _NOISE
    so = "was" if is_middle else "was reckoned at"
    least = number_exact(SOFT_SUPERFAT_PCT)
    text = f"Its superfat, the milk's own fat counted, {so} {_superfat(superfat)}; from about {least} % on bars stay soft."
    reason = Reason("cause_superfat", text, tuple(_superfat_figures(superfat)))
    certificates = "type the saponification values and the purity from the certificates of your lots"
    if superfat.may_be_caustic:
        # Who may have too much lye is not told to leave out less of it.
        return Cause(reason, f"Next time {certificates}: that narrows its superfat; do not set it lower before.")
    if is_middle:
        return Cause(reason, f"Next time set a lower superfat, or take less of what brings fat; and {certificates}.")
    return Cause(reason, f"Next time {certificates}, and measure the milk's fat: then you know whether it was that.")


def _superfat(superfat: EffectiveSuperfat) -> str:
    middle = number(superfat.middle_pct)
    if superfat.low_pct is None or superfat.high_pct is None:
        return f"{middle} %"
    return f"{middle} % (may have been {number(superfat.low_pct)} to {number(superfat.high_pct)} %)"


def _superfat_figures(superfat: EffectiveSuperfat) -> list[Figure]:
    named = {
        "superfat": superfat.middle_pct,
        "superfat_low": superfat.low_pct,
        "superfat_high": superfat.high_pct,
    }
    return [Figure(name, value, "%") for name, value in named.items() if value is not None]


def _span(hours: float) -> str:
    if hours >= MOST_SAID_HOURS:
        return f"{number(hours / 24)} days"
    said = number(hours)
    return f"{said} hour{'' if said == '1' else 's'}"


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
    steps = [DRIER]
    if found.scale_hides_loss:
        steps.append(_finer_scale(limits))
    if found.dry_enough:
        steps.append("Press again at each weighing and note whether it dents, gives or is firm.")
    known = causes(batch)
    steps.extend(cause.next_time for cause in known)
    if not known:
        steps.append(look_yourself(batch))
    return tuple(steps)


def look_yourself(batch: BatchAtMoment) -> str:
    """Return what may have kept a batch soft besides what is on record of it."""
    high = "" if batch.superfat is not None else "a superfat of about 8 % or more (a milk's own fat counts), "
    return (
        f"Look yourself for what is not entered here: lye weighed short, {high}"
        "much of fats that stay soft, a damp or cold place, bars without air around them."
    )


def early_advice(batch: BatchAtMoment) -> tuple[str, ...]:
    """Say of a batch that may stay too soft what its figures show, and what to do while there is time."""
    known = causes(batch)
    if not known:
        return (nothing_unusual(batch).text, look_yourself(batch), DRIER)
    return (*(cause.reason.text for cause in known), DRIER, *(cause.next_time for cause in known))
