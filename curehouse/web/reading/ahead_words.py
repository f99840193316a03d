"""What will be here of a material, in sentences: whether it is enough, how that comes about, and what to do."""

from collections.abc import Iterator
from datetime import date
from decimal import ROUND_CEILING

from curehouse.common.time import day_words
from curehouse.core.stock.reorder.unplanned import FEW_SIZES
from curehouse.flows.stock_ahead import TOLD_DAYS, Ahead, ArrivalEvent, CourseFigures, RunEvent, UseFigures
from curehouse.web.reading.amounts import rounded_words
from curehouse.web.reading.words import count

NOTHING_AHEAD = (
    "Nothing of it is usable, on its way or planned, and none of it was used so far: there is nothing to look ahead to yet."
)


# Another day than the one by which an order is to be decided: that one weighs what going short costs.
_SAFELY = "19 deliveries of 20 come within that"


class Words:
    """Days and amounts as people in the workshop write them; amounts to three digits, for they are reckoned."""

    def __init__(self, ahead: Ahead) -> None:
        self.material = ahead.material
        self.unit = ahead.material.workshop.unit
        self.today = ahead.days[0].day

    def day(self, day: date) -> str:
        """Return a day."""
        return "today" if day == self.today else day_words(day, today=self.today)

    def on(self, day: date) -> str:
        """Return on which day."""
        return "today" if day == self.today else f"on {self.day(day)}"

    def near(self, amount: float) -> str:
        """Return an amount, rounded."""
        return rounded_words(amount, self.material, self.unit)

    def lacking(self, amount: float) -> str:
        """Return an amount that must not be fallen short of: rounded up."""
        return rounded_words(amount, self.material, self.unit, rounding=ROUND_CEILING)


def verdict(ahead: Ahead, words: Words) -> str:
    """Return whether it is enough, and if not, from when on and for what."""
    if ahead.is_empty:
        return NOTHING_AHEAD
    by_plan, likely, perhaps = (one.short_on for one in (ahead.planned, ahead.likely, ahead.lean))
    last = words.day(ahead.days[-1].day)
    if likely is not None and likely == by_plan:
        return f"Short {words.on(likely)}: {_lacks(ahead, likely, words)}."
    if likely is not None:
        lacks = _lacks(ahead, likely, words)
        then = f", and {lacks}" if lacks else ""
        if not has_runs(ahead):
            return f"Likely short {words.on(likely)}, as it is usually used."
        plan = "Planned runs alone would leave enough" if by_plan is None else f"By planned runs alone {words.on(by_plan)}"
        return f"Likely short {words.on(likely)}, with what is usually used beside planned runs{then}. {plan}."
    if perhaps is not None:
        return f"Likely enough up to {last}, but short {words.on(perhaps)} {_if_it_goes_badly(ahead)}."
    if not _is_wanted(ahead):
        return f"Nothing of it is planned or likely to be used up to {last}."
    return f"Enough on every day up to {last}."


def _is_wanted(ahead: Ahead) -> bool:
    return ahead.use is not None or has_runs(ahead)


def has_runs(ahead: Ahead) -> bool:
    """Return whether any run takes of it."""
    return any(isinstance(one, RunEvent) for one in ahead.events)


def _lacks(ahead: Ahead, day: date, words: Words) -> str:
    """Return which runs lack how much on a day."""
    runs = [one for one in ahead.events if isinstance(one, RunEvent) and one.day == day and one.lacking]
    return ", ".join(
        f"{one.run.formula.name} takes {words.near(one.needed)}, {words.lacking(one.lacking)} of it will not be there"
        for one in runs
    )


def accounts(ahead: Ahead, words: Words) -> Iterator[str]:
    """Yield how it comes about, from when it may be short at the earliest, and what to do about it."""
    if ahead.is_empty:
        return
    likely = ahead.likely.short_on
    yield _sum_up(ahead, likely or ahead.days[-1].day, words)
    used_up = ahead.likely.used_up_on
    if likely is None and used_up is not None and used_up > words.today:
        yield f"From {words.day(used_up)} on nothing of it is left."
    if (early := ahead.lean.short_on) is not None and likely is not None and early < likely:
        yield f"It may be short as early as {words.day(early)}, {_if_it_goes_badly(ahead)}."
    yield from _remedies(ahead, words)


def _sum_up(ahead: Ahead, to: date, words: Words) -> str:
    """Return what is here, comes and goes up to a day, as a sum that adds up."""
    days = [one for one in ahead.days if one.day <= to]
    came, expired, into_runs, unplanned = (
        sum(getattr(one, name) for one in days) for name in ("came", "expired", "into_runs", "unplanned")
    )
    runs = sum(1 for one in ahead.events if isinstance(one, RunEvent) and one.day <= to)
    said = [f"{words.near(ahead.usable)} usable now"]
    said += [f"{words.near(came)} come"] if came else []
    said += [f"{words.near(into_runs)} go into {count(runs, 'planned run')}"] if into_runs else []
    said += [f"{words.near(unplanned)} are usually used besides"] if unplanned else []
    said += [f"{words.near(expired)} expire"] if expired else []
    left = "nothing" if not days[-1].left else words.near(days[-1].left)
    return f"Up to {words.day(to)}: {', '.join(said)}; {left} left."


def _if_it_goes_badly(ahead: Ahead) -> str:
    says = []
    if any(isinstance(one, ArrivalEvent) and one.safe > one.day for one in ahead.events):
        says.append("what is on its way comes only on its safe day")
    if ahead.use is not None:
        says.append("more is used besides than 19 times of 20")
    return f"if {' and '.join(says)}"


def _remedies(ahead: Ahead, words: Words) -> Iterator[str]:
    likely, lean = ahead.likely, ahead.lean
    says = []
    if likely.short_on is not None:
        says.append(_order(likely, words))
    elif lean.order_by is not None and lean.order_by >= words.today:
        says.append(f"To be safe even then, it would have to be sent for by {words.day(lean.order_by)}: {_SAFELY}.")
    if ahead.waiting and lean.short_on is not None:
        says.append(f"{'Or release' if says else 'Release'} what waits in quarantine.")
    if likely.short_on is not None:
        says.append(f"Up to {words.day(ahead.days[-1].day)} {words.lacking(likely.lacking)} lack in all.")
    if says:
        yield " ".join(says)


def _order(course: CourseFigures, words: Words) -> str:
    if course.order_by is None:
        return "How long a delivery takes is not known: write down what a supplier sells of it and in how many days it comes."
    if course.order_by < words.today:
        return "What is ordered now is safely here too late for that: buy it nearby, or move a run."
    return f"Sent for by {words.day(course.order_by)} it is here in time: {_SAFELY}."


def asides(ahead: Ahead, words: Words) -> Iterator[str]:
    """Yield what is known of use besides, and what is not counted."""
    if not ahead.is_empty:
        yield _use(ahead.use, words, is_beside_runs=has_runs(ahead))
    if ahead.waiting:
        waits = sum(float(lot.on_hand) for lot in ahead.waiting)
        lots = ", ".join(f"lot {lot.number}" for lot in ahead.waiting)
        yield f"Not counted: {words.near(waits)} in quarantine ({lots}), until a person releases it."
    for one in ahead.dayless:
        yield (
            f"Not counted: {words.near(float(one.amount))} of {one.line.order}, for nobody knows when it comes. "
            f"Write down in how many days {one.line.order.supplier.name} delivers."
        )


def _use(use: UseFigures | None, words: Words, *, is_beside_runs: bool) -> str:
    if use is None:
        return "None of it was used so far, so nothing is known of use beside planned runs: these alone are counted."
    besides = " beside planned runs" if is_beside_runs else ""
    told = f"as {count(use.uses, 'use')} in {count(use.known_days, 'day')} {'tells' if use.uses == 1 else 'tell'}"
    if use.uses < FEW_SIZES:
        told += "; that is little to go by, so the range is wide"
    planned = ""
    if use.planned_to is not None:
        planned = (
            f" Up to {words.day(use.planned_to)} as much is planned as is usual, so hardly any of that is expected until then."
        )
    if not use.much:
        return f"Hardly anything is used{besides} within {TOLD_DAYS // 7} weeks, {told}.{planned}"
    between = f"between {words.near(use.little) if use.little else 'nothing'} and {words.near(use.much)} 9 times of 10"
    usual = f"{words.near(use.usual)} are usually used" if use.usual else "Usually nothing is used"
    return f"{usual}{besides} within {TOLD_DAYS // 7} weeks, {between}, {told}.{planned}"
