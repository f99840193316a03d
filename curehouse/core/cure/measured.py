"""The measured rule: a verdict from weighings and limits, without a forecast."""

from dataclasses import replace

from .advice import AFTER_FAILED_CHECK, WEIGH_AGAIN, advice
from .causes import cause_reasons
from .findings import Findings, find
from .rule import BatchAtMoment, Figure, Reason, RuleLimits, State, Verdict
from .series import Weighing
from .words import STATE_WORDS, listed, reasons, unbroken

DEFAULT_LIMITS = RuleLimits()


def assess(batch: BatchAtMoment, limits: RuleLimits = DEFAULT_LIMITS) -> Verdict:
    """Give the verdict on a batch at a moment.

    Doubtful weighings are left out. If the state would be another with all of
    them, or with any one of them, the state is `LOOK_AGAIN`; so it is where a
    batch would be dry enough by a gain that damp air doesn't bring. A batch whose
    newest weighing is 14 days back or more is `NOT_WEIGHED`: its figures are
    those of that weighing, and nothing is concluded from them.

    Parameters
    ----------
    batch
        The batch as known at the moment; the order of bars and weighings
        doesn't matter.
    limits
        The maker's limits.

    Returns
    -------
    Verdict
        State, figures, reasons and advice.
    """
    found = find(batch, limits)
    state_with = _state_with_doubtful(batch, limits, found.state)
    differs = state_with is not found.state
    said = reasons(batch, limits, found)
    if found.state is State.TOO_SOFT:
        said += cause_reasons(batch, found)
    doubtful = _doubtful(batch)
    left_out = (_left_out(doubtful),) if doubtful else ()
    if differs:
        said = (_look_again(found.state, state_with, len(doubtful)), *left_out, *said)
    else:
        said += left_out
    steps = _steps(batch, limits, found, doubtful=len(doubtful), differs=differs)
    return _verdict(batch, limits, found, said, steps, state_with)


def _steps(batch: BatchAtMoment, limits: RuleLimits, found: Findings, *, doubtful: int, differs: bool) -> tuple[str, ...]:
    steps = advice(batch, limits, found)
    if found.held:
        steps = (*(step for step in steps if step == AFTER_FAILED_CHECK), WEIGH_AGAIN)
    if not doubtful:
        return steps
    settle = f"Confirm or correct the doubtful weighing{'' if doubtful == 1 else 's'}."
    # What to do with a batch waits until it is known how it stands; a failed check doesn't.
    return (settle, *(step for step in steps if not differs or step in (AFTER_FAILED_CHECK, WEIGH_AGAIN)))


def _verdict(
    batch: BatchAtMoment,
    limits: RuleLimits,
    found: Findings,
    said: tuple[Reason, ...],
    steps: tuple[str, ...],
    state_with: State,
) -> Verdict:
    return Verdict(
        state=State.LOOK_AGAIN if found.held or state_with is not found.state else found.state,
        state_without_doubtful=found.state,
        state_with_doubtful=state_with,
        age_days=batch.whole_days,
        days_to_min=max(limits.min_days - batch.whole_days, 0),
        weekly_loss_pct=found.weekly_loss_pct,
        total_loss_pct=found.total_loss_pct,
        water_left_pct=found.water_left_pct,
        water_left_of_bar_pct=found.water_left_of_bar_pct,
        dry_enough=found.dry_enough and not found.held and found.state is not State.NOT_WEIGHED,
        bars=found.bars,
        reasons=tuple(replace(reason, text=unbroken(reason.text)) for reason in said),
        advice=tuple(unbroken(step) for step in steps),
    )


def _state_with_doubtful(batch: BatchAtMoment, limits: RuleLimits, without: State) -> State:
    """Return the state with all doubtful weighings, or with one, where it differs."""
    places = sorted(
        (weighing.day, bar.label, bar_index, index)
        for bar_index, bar in enumerate(batch.bars)
        for index, weighing in enumerate(bar.weighings)
        if weighing.doubtful
    )
    marks = [(bar_index, index) for _, _, bar_index, index in places]
    trials = [set(marks)] if marks else []
    if len(marks) > 1:
        trials += [{mark} for mark in marks]
    for trusted in trials:
        state = find(_trusting(batch, trusted), limits).state
        if state is not without:
            return state
    return without


def _trusting(batch: BatchAtMoment, trusted: set[tuple[int, int]]) -> BatchAtMoment:
    bars = tuple(
        replace(
            bar,
            weighings=tuple(
                replace(weighing, doubtful=False) if (bar_index, index) in trusted else weighing
                for index, weighing in enumerate(bar.weighings)
            ),
        )
        for bar_index, bar in enumerate(batch.bars)
    )
    return replace(batch, bars=bars)


def _look_again(without: State, state_with: State, doubtful: int) -> Reason:
    it = "it" if doubtful == 1 else "them"
    return Reason(
        "look_again",
        f"Without the doubtful weighing{'' if doubtful == 1 else 's'} this batch is "
        f"{STATE_WORDS[without]}, with {it} {STATE_WORDS[state_with]}.",
    )


def _doubtful(batch: BatchAtMoment) -> list[tuple[str, Weighing]]:
    """Return the doubtful weighings with the bar's label, by bar and then by day."""
    return [
        (bar.label, weighing)
        for bar in sorted(batch.bars, key=lambda b: b.label)
        for weighing in sorted(bar.weighings, key=lambda w: w.day)
        if weighing.doubtful
    ]


def _left_out(doubtful: list[tuple[str, Weighing]]) -> Reason:
    """Say in one sentence which weighings are left out: the bars of one day together."""
    bars_of_day: dict[int, list[str]] = {}
    for label, weighing in sorted(doubtful, key=lambda one: round(one[1].day)):
        bars_of_day.setdefault(round(weighing.day), []).append(label)
    days = [
        f"bar{'' if len(set(bars)) == 1 else 's'} {listed(list(dict.fromkeys(bars)))} on day {day}"
        for day, bars in bars_of_day.items()
    ]
    who = listed(days)
    figures = tuple(
        figure
        for _, weighing in doubtful
        for figure in (Figure("day", weighing.day, "day"), Figure("weight", weighing.weight_g, "g"))
    )
    return Reason("doubtful", f"{who[0].upper()}{who[1:]}: left out of the verdict until confirmed or corrected.", figures)
