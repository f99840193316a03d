"""What is said of a batch once its bars are gone, and how figures stay with their units."""

import re

import pytest

from curehouse.core.cure.hindsight import in_hindsight
from curehouse.core.cure.measured import assess
from curehouse.core.cure.rule import BatchAtMoment, CheckOutcome, EffectiveSuperfat, Firmness, RuleLimits, SampleSeries, Verdict
from curehouse.core.cure.series import Weighing
from curehouse.core.cure.words import unbroken
from tests.brute_force import load

from .build import batch, doubtful, losing, series

LIMITS = (RuleLimits(), RuleLimits(min_days=42, weekly_loss_limit_pct=0.5, water_left_limit_pct=35))
NOTES = (None, Firmness.FIRM, Firmness.DENTS, Firmness.DENTS, Firmness.DENTS)
STEPS_G = (0.1, 1.0, 2.0, 2.0, 2.0)


def made_up() -> list[BatchAtMoment]:
    """Return batches in which every reason comes up."""
    found = []
    for share, rows in load().values():
        letters = sorted({row.bar for row in rows})
        for index in range(1, len(rows) + 1, 3):
            known = rows[:index]
            last = max(row.day for row in known)
            for later, check in zip((0, 9, 20), CheckOutcome, strict=True):
                bars = tuple(
                    SampleSeries(
                        bar,
                        tuple(Weighing(row.day, row.weight_g, step_g=step_g) for row in known if row.bar == bar),
                        note if index % 2 else None,
                    )
                    for bar, note, step_g in zip(letters, NOTES, STEPS_G, strict=False)
                )
                found.append(BatchAtMoment(int(last) + later, last + later, bars, check, share, None, 32.0, 26.0))
    settled = series((21, 100.5), (28, 100.0))
    return [
        *found,
        batch((*settled, *doubtful((35, 97.0))), day=35),
        batch(losing(1.2, until=60), day=60, liquid_pct_of_fats=42.0, cut_after_hours=18.0),
        batch(losing(1.2, until=60), day=60, superfat=EffectiveSuperfat(9.0, 7.0, 11.0)),
        batch(losing(0.5, until=28), day=28),
        batch(series((0, 100), (28, 70)), day=28, water_share=0.1),
        batch(losing(0.0, until=28), day=28),
        batch((), day=20),
    ]


def verdicts() -> list[Verdict]:
    return [assess(one, limits) for one in made_up() for limits in LIMITS]


def retold(verdict: Verdict) -> list[str]:
    return [
        in_hindsight(reason.code, reason.text, {figure.name: figure.value for figure in reason.figures})
        for reason in verdict.reasons
    ]


def test_every_reason_is_retold_without_the_present() -> None:
    codes, present = set(), re.compile(r"\b(is|are|isn't|Losing|Gained|dents?|counts|weighed since)\b")
    for verdict in verdicts():
        for reason, text in zip(verdict.reasons, retold(verdict), strict=True):
            codes.add(reason.code)
            # What is usual stays so.
            if not reason.code.startswith("cause"):
                assert not present.search(text), (reason.code, text)
    assert codes == {
        "age", "cause_cut_early", "cause_dry_but_dents", "cause_liquid", "cause_superfat", "check_failed", "check_none",
        "check_passed", "dents", "doubtful",
        "firmness", "late_start", "look_again", "more_than_its_water", "no_cause", "no_water_left", "no_weekly_loss",
        "not_weighed", "past_latest", "scale_step", "scale_too_coarse", "water_left", "weekly_loss",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("weekly", "text"),
    [
        (0.3333, "It lost 0.33 % in its last week; 0.75 % or less was dry enough."),
        (0.7501, "It lost 0.76 % in its last week; 0.75 % or less was dry enough."),
        (-0.2, "It gained 0.2 % in its last week; 0.75 % or less was dry enough."),
        (0.0, "It lost nothing in its last week; 0.75 % or less was dry enough."),
    ],
)
def test_the_last_weekly_loss_is_told_with_its_figures(weekly: float, text: str) -> None:
    said = in_hindsight("weekly_loss", "Losing", {"weekly_loss": weekly, "weekly_loss_limit": 0.75})
    assert said.replace("\u00a0", " ") == text


def test_a_reason_without_its_figures_or_of_a_kind_not_known_comes_back_as_it_was() -> None:
    assert in_hindsight("weekly_loss", "Losing 1 % a week.", {}) == "Losing 1 % a week."
    assert in_hindsight("something_new", "It glows.", {}) == "It glows."


def test_no_figure_is_parted_from_its_unit_by_a_space_that_breaks() -> None:
    breakable = re.compile(r"[0-9] (%|days?\b|hours?\b|weeks?\b)|[Dd]ay [0-9]|± [0-9]")
    for verdict in verdicts():
        for sentence in (*(reason.text for reason in verdict.reasons), *verdict.advice, *retold(verdict)):
            assert not breakable.search(sentence), sentence


@pytest.mark.parametrize(
    ("plain", "tied"),
    [
        ("Day 3 of 28 to 38 %.", "Day_3 of 28 to 38_%."),
        ("12 days ago, after 2.5 hours", "12_days ago, after 2.5_hours"),
        ("1 of 3 bars, to ± 0.4 %", "1 of 3 bars, to ±_0.4_%"),
    ],
)
def test_only_figures_and_their_units_are_tied(plain: str, tied: str) -> None:
    assert unbroken(plain) == tied.replace("_", "\u00a0")
