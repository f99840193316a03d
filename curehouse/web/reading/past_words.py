"""What past forecasts came to, in plain words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from curehouse.common.units import GRAM, show_mass
from curehouse.core.cure.came import WhyUnknown
from curehouse.core.cure.past_told import LEAST_BATCHES, MOST_WEIGHINGS, Promise, RangesHeld, Score, SoftTold
from curehouse.curing.past_forecasts import GOING_ON, TOLD_LATE
from curehouse.web.reading.words import count

PROMISE_WORDS = {
    Promise.TOO_FEW: "too few batches yet",
    Promise.KEPT: "as promised",
    Promise.TOO_SELDOM: "clearly seldomer than promised",
    Promise.TOO_OFTEN: "clearly more often than promised",
}
_NUMBERS = ("", "one", "two", "three", "four", "five")
_WHY_NOT = {
    GOING_ON: ("still cures", "still cure"),
    WhyUnknown.STILL_WET.value: ("left before it was dry enough", "left before they were dry enough"),
    WhyUnknown.NOT_WEIGHED.value: ("was not weighed to its end", "were not weighed to their end"),
    WhyUnknown.TOO_FAR_APART.value: (
        "became dry enough between weighings more than ten days apart",
        "became dry enough between weighings more than ten days apart",
    ),
    TOLD_LATE: ("was foretold only once it was dry enough", "were foretold only once they were dry enough"),
}
# What one has in hand against a range that does not hold, and what one needs not mind of one that always does.
_SELDOM_DAYS = "Trust the outer days, not the middle: go by the last day named and some days more, and weigh once more first."
_OFTEN_DAYS = "The days named reach wider than they need to: the batch is likely nearer to the middle than they say."
_SELDOM_WEIGHTS = "Trust the outer weights: print a label a step lighter, and weigh once more before you keep it."
_OFTEN_WEIGHTS = "The weights named reach wider than they need to, so a label by them is on the safe side."


@dataclass(frozen=True, slots=True)
class Words:
    """Sentences of one kind of forecast; ``warned`` are those that say what does not go as promised, and what to do."""

    said: tuple[str, ...]
    warned: tuple[str, ...]


def after(weighings: int) -> str:
    """Return ``two weighings``, the most as ``five weighings or more``."""
    word = "one weighing" if weighings == 1 else f"{_NUMBERS[weighings]} weighings"
    return f"{word} or more" if weighings == MOST_WEIGHINGS else word


def days_words(scores: Sequence[Score]) -> Words:
    """Return what came of the days named."""
    enough = [one for one in scores if one.ready.promise is not Promise.TOO_FEW]
    said = [_days(one, is_first=one is enough[0]) for one in enough]
    few = [one for one in scores if one.ready.promise is Promise.TOO_FEW]
    return Words(
        (*said, *_too_few(few, {one.weighings: one.ready for one in few}, is_all=not enough)),
        _warned(scores, is_days=True, unit=""),
    )


def weight_words(scores: Sequence[Score], unit: str) -> Words:
    """Return what came of the weights told, of the number of weighings that most batches tell of."""
    enough = [one for one in scores if one.weight.promise is not Promise.TOO_FEW]
    few = [one for one in scores if one.weight.promise is Promise.TOO_FEW]
    most = max(enough, key=lambda one: one.weight.batches, default=None)
    said = () if most is None else (_weights(most, unit),)
    told = said or _too_few(few, {one.weighings: one.weight for one in few}, is_all=True)
    return Words(told, _warned(scores, is_days=False, unit=unit))


def soft_words(scores: Sequence[Score]) -> str:
    """Return what came of warnings that a batch may stay too soft, of the number of weighings most batches tell of."""
    most = max(scores, key=lambda one: one.soft.batches)
    soft = most.soft
    if soft.batches < LEAST_BATCHES:
        some = count(soft.batches, "batch", "batches") if soft.batches else "none"
        return f"Too few batches yet: of {some} it is known what came. From {LEAST_BATCHES} on it is said here."
    return f"After {after(most.weighings)}: of {count(soft.batches, 'batch', 'batches')}, {_soft_told(soft)} {_soft_were(soft)}"


def _soft_told(soft: SoftTold) -> str:
    if not soft.told:
        return "none was told as likely too soft;"
    return f"{soft.told} {_was(soft.told)} told as likely too soft, and {soft.told_and_were} of these stayed so;"


def _soft_were(soft: SoftTold) -> str:
    if not soft.were:
        return "none stayed too soft."
    return f"{soft.were} stayed too soft, and of {soft.were_and_told} of these it had been told."


def uncounted_words(uncounted: Mapping[str, int]) -> str:
    """Return how many batches are not counted, and why; nothing where all are."""
    parts = [f"{many} that {said[many != 1]}" for why, said in _WHY_NOT.items() if (many := uncounted.get(why, 0))]
    return f"Not counted: {', '.join(parts)}." if parts else ""


def error_words(held: RangesHeld, unit: str = "") -> tuple[str, str]:
    """Return the mean size of the error and the mean error as figures, of days or of a mass; a dash where too few tell."""
    if held.mean_error is None or held.bias is None:
        return "–", "–"
    if not unit:
        return f"{held.mean_error:.1f}", _signed(held.bias, f"{abs(held.bias):.1f}")
    return grams(held.mean_error, unit), _signed(held.bias, grams(abs(held.bias), unit))


def grams(value: float, unit: str) -> str:
    """Return a mass as fine as these figures are."""
    return show_mass(value, unit, decimals=2 if unit == GRAM else 4)


def _signed(value: float, shown: str) -> str:
    return f"{'−' if value < 0 else '+' if value > 0 else ''}{shown}"


def _days(one: Score, *, is_first: bool) -> str:
    ready, promised = one.ready, " (8 of 10 is what the house promises)" if is_first else ""
    held = (
        f"After {after(one.weighings)}: of {ready.batches} batches, {ready.held} became ready within the days that were "
        f"named{promised}"
    )
    if ready.mean_error is None or ready.bias is None:
        return f"{held}."
    return f"{held}; the middle was off by {_days_count(ready.mean_error)} on average, {_early_late(ready.bias)}."


def _days_count(days: float) -> str:
    return "1 day" if days == 1 else f"{days:g} days"


def _early_late(bias: float) -> str:
    if not bias:
        return "as often too early as too late"
    return f"{_days_count(abs(bias))} too {'early' if bias < 0 else 'late'}"


def _weights(one: Score, unit: str) -> str:
    weight = one.weight
    held = (
        f"After {after(one.weighings)}: of {weight.ranges} sample bars of {weight.batches} batches, {weight.held} weighed "
        f"within what was named, two weeks or more later (8 of 10 is what the house promises)"
    )
    if weight.mean_error is None or weight.bias is None:
        return f"{held}."
    off = f"{grams(abs(weight.bias), unit)} too {'light' if weight.bias < 0 else 'heavy'}" if weight.bias else "neither way"
    return f"{held}; the middle was off by {grams(weight.mean_error, unit)} on average, {off}."


def _too_few(few: Sequence[Score], held: Mapping[int, RangesHeld], *, is_all: bool) -> tuple[str, ...]:
    if not few:
        return ()
    if is_all and not any(one.batches for one in held.values()):
        return (f"Too few batches yet: of none is it known what came. From {LEAST_BATCHES} on it is said here.",)
    parts = [f"{held[one.weighings].batches} after {after(one.weighings)}" for one in few]
    listed = " and ".join([", ".join(parts[:-1]), parts[-1]] if len(parts) > 1 else parts)
    return (f"Too few batches yet: {listed}. From {LEAST_BATCHES} on it is said here.",)


def _warned(scores: Sequence[Score], *, is_days: bool, unit: str) -> tuple[str, ...]:
    what = "The days named" if is_days else "The weights named"
    seldom, often = (_SELDOM_DAYS, _OFTEN_DAYS) if is_days else (_SELDOM_WEIGHTS, _OFTEN_WEIGHTS)
    out = []
    for promise, advice in ((Promise.TOO_SELDOM, seldom), (Promise.TOO_OFTEN, often)):
        found = [one for one in scores if (one.ready if is_days else one.weight).promise is promise]
        if found:
            listed = ", ".join(after(one.weighings) for one in found)
            out.append(f"{what} after {listed} held {PROMISE_WORDS[promise]}. {advice}")
    return tuple(out)


def _was(many: int) -> str:
    return "was" if many == 1 else "were"
