"""Short hands for the series and batches of the tests in this folder."""

from dataclasses import replace

from curehouse.core.cure.measured import DEFAULT_LIMITS, assess
from curehouse.core.cure.rule import BatchAtMoment, CheckOutcome, Firmness, RuleLimits, SampleSeries, Verdict
from curehouse.core.cure.series import Weighing


def series(*pairs: tuple[float, float]) -> tuple[Weighing, ...]:
    return tuple(Weighing(day, weight_g) for day, weight_g in pairs)


def doubtful(*pairs: tuple[float, float]) -> tuple[Weighing, ...]:
    return tuple(Weighing(day, weight_g, doubtful=True) for day, weight_g in pairs)


def losing(percent: float, *, until: int, weeks: int = 2, now_g: float = 100.0):
    """Weekly weighings up to a day, each week losing `percent` of the newest weight."""
    step_g = now_g * percent / 100
    return series(*((until - 7 * back, now_g + back * step_g) for back in range(weeks, -1, -1)))


def batch(
    *bars: tuple[Weighing, ...],
    day: int,
    check: CheckOutcome = CheckOutcome.PASSED,
    firmness: tuple[Firmness | None, ...] = (),
    **known: float | None,
) -> BatchAtMoment:
    notes = firmness + (None,) * (len(bars) - len(firmness))
    labelled = zip("ABCDEFG", bars, notes, strict=False)
    return BatchAtMoment(
        whole_days=day,
        age_days=float(day),
        bars=tuple(SampleSeries(label, bar, note) for label, bar, note in labelled),
        check=check,
        **known,
    )


def assess_in_plain_spaces(at_moment: BatchAtMoment, limits: RuleLimits = DEFAULT_LIMITS) -> Verdict:
    """Return the verdict with its no-break spaces as spaces, to be read against a plain sentence."""
    verdict = assess(at_moment, limits)
    return replace(
        verdict,
        reasons=tuple(replace(reason, text=reason.text.replace("\u00a0", " ")) for reason in verdict.reasons),
        advice=tuple(step.replace("\u00a0", " ") for step in verdict.advice),
    )
