"""The sentences behind a verdict: percent and days only, so they hold in g and oz."""

import math
import re
from collections.abc import Sequence

from .findings import Findings
from .rule import BatchAtMoment, CheckOutcome, Figure, Reason, RuleLimits, State
from .series import SHORTEST_WEEK_DAYS

STATE_WORDS = {
    State.CURING: "curing",
    State.CHECK_DUE: "dry enough but check due",
    State.READY: "ready",
    State.TOO_SOFT: "too soft",
    State.LOOK_AGAIN: "look again",
    State.NOT_WEIGHED: "not weighed",
}

# Half a step of the scale is told once it is a fifth of the limit; below that it alters no verdict to speak of.
NEGLIGIBLE_PART = 0.2


_BREAKABLE = re.compile(r"(?<=[0-9]) (?=(?:%|days?|hours?|weeks?)(?![a-z]))|(?<=[Dd]ay) (?=[0-9])|(?<=±) ")


def unbroken(text: str) -> str:
    """Tie each figure to its unit, so that a line never ends between the two."""
    return _BREAKABLE.sub("\u00a0", text)


def listed(things: Sequence[str]) -> str:
    """Join things as a sentence does: commas, and an "and" before the last."""
    return things[0] if len(things) == 1 else f"{', '.join(things[:-1])} and {things[-1]}"


def number(value: float) -> str:
    """Write a figure with two significant digits, at most two decimals, and a true minus."""
    size = abs(value)
    decimals = 0 if size >= 9.95 else 1 if size >= 0.995 else 2
    text = f"{size:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return f"−{text}" if value < 0 and text != "0" else text


def number_above(value: float, limit: float) -> str:
    """Write a figure that is over its limit so that it also reads as over it."""
    text = number(value)
    if float(text) > limit:
        return text
    decimals = max(2, len(number_exact(limit).partition(".")[2]))
    step = 10.0**-decimals
    steps = max(math.ceil(value / step), math.floor(limit / step + 1e-9) + 1)
    return f"{steps * step:.{decimals}f}"


def number_exact(value: float) -> str:
    """Write a limit as the maker set it."""
    return f"{value:g}"


def reasons(batch: BatchAtMoment, limits: RuleLimits, found: Findings) -> tuple[Reason, ...]:
    """Say why the state is what it is, most telling first."""
    if found.state is State.NOT_WEIGHED:
        return (_not_weighed(batch, found), _age(batch, limits), _check(batch))
    late = found.past_latest and found.state in (State.TOO_SOFT, State.CURING) and not found.dry_enough
    beyond = found.water_impossible
    said: tuple[Reason | None, ...] = (
        _water(batch, limits, found) if beyond else None,
        _past_latest(batch, limits) if late else None,
        _too_coarse(limits, found),
        _weekly_loss(batch, limits, found),
        _scale_step(limits, found),
        None if late else _age(batch, limits),
        None if beyond else _water(batch, limits, found),
        _firmness(found),
        _check(batch),
        _late_start(batch, found),
    )
    # A thumb that decides comes before the figures it overrules.
    if found.state is State.TOO_SOFT and found.dry_enough:
        thumb = _firmness(found)
        said = (thumb, *(reason for reason in said if reason != thumb))
    return tuple(reason for reason in said if reason is not None)


def _not_weighed(batch: BatchAtMoment, found: Findings) -> Reason:
    ago = found.days_since_weighed
    newest = batch.newest_weighing_day
    text = f"Never weighed; the cut was {ago} days ago."
    if newest is not None:
        text = f"Not weighed since day {round(newest)}, {ago} days ago."
    return Reason("not_weighed", text, (Figure("days_since_weighed", ago, "days"),))


def _past_latest(batch: BatchAtMoment, limits: RuleLimits) -> Reason:
    return Reason(
        "past_latest",
        f"Day {batch.whole_days}; its latest day is {limits.latest_day}.",
        (
            Figure("age", batch.whole_days, "days"),
            Figure("latest_day", limits.latest_day, "days"),
        ),
    )


def _weekly_loss(batch: BatchAtMoment, limits: RuleLimits, found: Findings) -> Reason:
    weekly = found.weekly_loss_pct
    limit = limits.weekly_loss_limit_pct
    if weekly is None:
        return Reason("no_weekly_loss", f"No weekly loss yet: {_what_is_missing(batch, found)}")
    limit_text = number_exact(limit)
    day = _day_of_figures(batch, found)
    as_of = "" if day == batch.whole_days else f" as of day {day}"
    week = "this week" if day == batch.whole_days else f"in the week up to day {day}"
    if found.scale_hides_loss:
        text = f"On this scale it {_that_week(weekly, week)}."
    elif not found.loss_small:
        text = f"Losing {number_above(weekly, limit)} % a week{as_of}; dry enough at {limit_text} % or less."
    elif number(weekly) == "0":
        text = f"Lost nothing {week}; {limit_text} % or less is dry enough."
    elif weekly < 0:
        gained = number(-weekly)
        text = f"Gained {gained} % {week}, as bars do in damp air; a loss of {limit_text} % or less is dry enough."
        if found.gained_too_much:
            text = f"Gained {gained} % {week}: more than damp air brings; wet, another bar, or something on the scale."
    else:
        text = f"Losing {number(weekly)} % a week{as_of}; {limit_text} % or less is dry enough."
    return Reason(
        "weekly_loss",
        text,
        (Figure("weekly_loss", weekly, "%"), Figure("weekly_loss_limit", limit, "%")),
    )


def _day_of_figures(batch: BatchAtMoment, found: Findings) -> int:
    """Return the local day of the newest weighing behind the figures."""
    newest = max((bar.newest_day for bar in found.bars), default=0.0)
    if newest == batch.newest_weighing_day:
        return max(batch.whole_days - found.days_since_weighed, 0)
    return min(round(newest), batch.whole_days)


def _that_week(weekly_pct: float, week: str) -> str:
    said = number(weekly_pct)
    if said == "0":
        return f"lost nothing {week}"
    return f"gained {number(-weekly_pct)} % {week}" if weekly_pct < 0 else f"lost {said} % {week}"


def _too_coarse(limits: RuleLimits, found: Findings) -> Reason | None:
    half = found.half_step_pct
    if half is None or not found.scale_hides_loss:
        return None
    limit = limits.weekly_loss_limit_pct
    text = (
        "The scale is too coarse to show whether it is dry enough: half of its step is "
        f"{number_above(half, limit)} % of a bar, and the limit is {number_exact(limit)} % a week."
    )
    return Reason("scale_too_coarse", text, (Figure("half_step", half, "%"), Figure("weekly_loss_limit", limit, "%")))


def _scale_step(limits: RuleLimits, found: Findings) -> Reason | None:
    half = found.half_step_pct
    if half is None or found.scale_hides_loss or half < NEGLIGIBLE_PART * limits.weekly_loss_limit_pct:
        return None
    text = f"The scale shows the weekly loss to ± {number(half)} %: half of its step."
    return Reason("scale_step", text, (Figure("half_step", half, "%"),))


def _what_is_missing(batch: BatchAtMoment, found: Findings) -> str:
    if batch.newest_weighing_day is None:
        return "not weighed so far."
    if not found.bars:
        return "the newest weighings are doubtful."
    counted = {bar.label for bar in found.bars}
    good_days = [[w.day for w in bar.weighings if not w.doubtful] for bar in batch.bars if bar.label in counted]
    if max(max(days) - min(days) for days in good_days) < SHORTEST_WEEK_DAYS:
        return "the first weighing must be five days back or more."
    return "the weighings around the day seven days back are more than 10 days apart."


def _age(batch: BatchAtMoment, limits: RuleLimits) -> Reason:
    day, least = batch.whole_days, limits.min_days
    text = f"Day {day}; old enough from day {least}."
    return Reason("age", text, (Figure("age", day, "days"), Figure("min_days", least, "days")))


def _why_no_water(batch: BatchAtMoment) -> str:
    if batch.water_share is None:
        return ", since the fresh bar's water share is missing"
    return ": no bar was weighed at the cut" if batch.newest_weighing_day is not None else " before it is weighed"


def _water(batch: BatchAtMoment, limits: RuleLimits, found: Findings) -> Reason | None:
    left, limit = found.water_left_pct, limits.water_left_limit_pct
    if left is None:
        if limit is None:
            return None
        text = (
            f"Dry enough at {number_exact(limit)} % of its water left or less; how much is left is not known"
            f"{_why_no_water(batch)}."
        )
        return Reason("no_water_left", text, (Figure("water_left_limit", limit, "%"),))
    figures = [Figure("water_left", left, "%")]
    if limit is not None:
        figures.append(Figure("water_left_limit", limit, "%"))
    if left < 0:
        text = f"It has lost {number_above(100 - left, 100)} % of the water that went in, more than there was: "
        if found.water_impossible:
            text += "its fats, liquids or water share as entered, or a weighing, must be wrong."
        else:
            text += "look at the water share and the first weighing."
        return Reason("more_than_its_water", text, tuple(figures))
    still = "% of its water is still in it"
    if limit is None:
        text = f"{number(left)} {still}."
    elif found.water_low:
        text = f"{number(left)} {still}; {number_exact(limit)} % or less is dry enough."
    else:
        text = f"{number_above(left, limit)} {still}; dry enough at {number_exact(limit)} % or less."
    return Reason("water_left", text, tuple(figures))


def _firmness(found: Findings) -> Reason | None:
    if not found.noted:
        return None
    figures = (Figure("denting", found.denting, "bars"), Figure("noted", found.noted, "bars"))
    if not found.denting:
        return Reason("firmness", "No bar dents under the thumb.", figures)
    verb = "dents" if found.denting == 1 else "dent"
    bars = "bar" if found.noted == 1 else "bars"
    text = f"{found.denting} of {found.noted} {bars} {verb} under the thumb."
    return Reason("dents" if found.dents else "firmness", text, figures)


def _check(batch: BatchAtMoment) -> Reason:
    texts = {
        CheckOutcome.NONE: "No safety check yet.",
        CheckOutcome.PASSED: "Its safety check is passed.",
        CheckOutcome.FAILED: "Its last safety check failed.",
    }
    return Reason(f"check_{batch.check.value}", texts[batch.check])


def _late_start(batch: BatchAtMoment, found: Findings) -> Reason | None:
    late = [bar for bar in found.bars if not bar.starts_at_cut]
    if not late:
        return None
    days = sorted({round(bar.start_day) for bar in late if bar.start_day is not None})
    when = f"day {days[0]}" if len(days) == 1 else f"days {days[0]} to {days[-1]}"
    figures = tuple(Figure("start_day", day, "day") for day in days)
    if len(late) == len(found.bars):
        water = "the water left is not known, and " if batch.water_share is not None else ""
        first = "its first weighing" if len(days) == 1 else "the first weighings"
        text = f"No bar was weighed at the cut: {water}the total loss is that since {first} on {when}."
        return Reason("late_start", text, figures)
    who = f"Bar {late[0].label} was" if len(late) == 1 else f"Bars {listed([bar.label for bar in late])} were"
    return Reason("late_start", f"{who} first weighed on {when}, not at the cut; what was lost before isn't counted.", figures)
