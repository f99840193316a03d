"""The sentences of a verdict and its advice."""

import pytest

from curehouse.core.cure.rule import BatchAtMoment, CheckOutcome, EffectiveSuperfat, Firmness, RuleLimits, SampleSeries, State
from curehouse.core.cure.words import STATE_WORDS, number, number_above

from .build import assess_in_plain_spaces as assess
from .build import batch, losing, series


def texts(verdict) -> list[str]:
    return [reason.text for reason in verdict.reasons]


def reason(verdict, code):
    return next(r for r in verdict.reasons if r.code == code)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (1.1234, "1.1"),
        (0.754, "0.75"),
        (0.5, "0.5"),
        (57.4, "57"),
        (9.97, "10"),
        (0.999, "1"),
        (0.0, "0"),
        (-0.001, "0"),
        (-0.2, "−0.2"),
        (100.0, "100"),
    ],
)
def test_a_figure_is_written_short(value, text):
    assert number(value) == text


@pytest.mark.parametrize(
    ("value", "limit", "text"),
    [
        (1.12, 0.75, "1.1"),
        (0.7501, 0.75, "0.76"),
        (0.754, 0.75, "0.76"),
        (1.01, 1.0, "1.01"),
        (59.7, 59.6, "60"),
        (60.2, 60.0, "60.20"),
        (0.62, 0.625, "0.626"),
    ],
)
def test_a_figure_over_its_limit_never_reads_as_within(value, limit, text):
    assert number_above(value, limit) == text
    assert float(number_above(value, limit)) > limit


def test_every_state_has_its_words():
    assert set(STATE_WORDS) == set(State)


def test_a_curing_batch_says_loss_age_and_water():
    bar = series((0, 125), (14, 116.3), (21, 115))
    verdict = assess(batch(bar, day=21, check=CheckOutcome.NONE, water_share=0.2))
    assert texts(verdict) == [
        "Losing 1.1 % a week; dry enough at 0.75 % or less.",
        "Day 21; old enough from day 28.",
        "60 % of its water is still in it.",
        "No safety check yet.",
    ]
    assert verdict.advice == ("Weigh it on the next round that lists it.",)


def test_figures_behind_the_sentence_are_not_rounded():
    verdict = assess(batch(series((0, 125), (14, 116.3), (21, 115)), day=21))
    figure = reason(verdict, "weekly_loss").figures[0]
    assert (figure.name, figure.unit) == ("weekly_loss", "%")
    assert figure.value == pytest.approx(100 * 1.3 / 115)


@pytest.mark.parametrize(
    ("percent", "text"),
    [
        (-0.2, "Gained 0.2 % this week, as bars do in damp air; a loss of 0.75 % or less is dry enough."),
        (0.0, "Lost nothing this week; 0.75 % or less is dry enough."),
        (0.6, "Losing 0.6 % a week; 0.75 % or less is dry enough."),
        (0.751, "Losing 0.76 % a week; dry enough at 0.75 % or less."),
    ],
)
def test_the_weekly_loss_is_said_in_words(percent, text):
    verdict = assess(batch(losing(percent, until=21), day=21))
    assert reason(verdict, "weekly_loss").text == text


@pytest.mark.parametrize(
    ("percent", "text"),
    [
        (-0.2, "Gained 0.2 % in the week up to day 21, as bars do in damp air; a loss of 0.75 % or less is dry enough."),
        (0.0, "Lost nothing in the week up to day 21; 0.75 % or less is dry enough."),
        (0.6, "Losing 0.6 % a week as of day 21; 0.75 % or less is dry enough."),
        (6.8, "Losing 6.8 % a week as of day 21; dry enough at 0.75 % or less."),
    ],
)
def test_a_weekly_loss_of_another_day_says_of_which(percent, text):
    verdict = assess(batch(losing(percent, until=21), day=24))
    assert reason(verdict, "weekly_loss").text == text


@pytest.mark.parametrize(
    ("bar", "text"),
    [
        ((), "No weekly loss yet: not weighed so far."),
        (
            series((0, 120), (3, 117)),
            "No weekly loss yet: the first weighing must be five days back or more.",
        ),
        (
            series((0, 120), (12, 112)),
            "No weekly loss yet: the weighings around the day seven days back are more than 10 days apart.",
        ),
    ],
)
def test_what_a_weekly_loss_still_needs_is_said(bar, text):
    assert reason(assess(batch(bar, day=12)), "no_weekly_loss").text == text


def test_dry_but_young_says_how_long_to_leave_it():
    verdict = assess(batch(losing(0.5, until=21), day=21))
    assert verdict.advice == ("Leave it until day 28 and weigh it every week.",)


@pytest.mark.parametrize("day", [21, 28, 57])
@pytest.mark.parametrize("percent", [0.5, 2.0])
def test_a_failed_check_always_says_what_to_do(day, percent):
    verdict = assess(batch(losing(percent, until=day), day=day, check=CheckOutcome.FAILED))
    assert verdict.state is not State.READY
    assert "check_failed" in [r.code for r in verdict.reasons]
    assert verdict.advice[0] == "Test again after a week or more, rework or destroy."


def test_check_due_asks_for_the_check_by_the_maker_s_own_limit():
    verdict = assess(batch(losing(0.5, until=28), day=28, check=CheckOutcome.NONE))
    assert "safety check by your own written limit" in verdict.advice[0]


def test_too_soft_says_what_the_figures_say_and_a_cause_they_support():
    verdict = assess(batch(losing(1.2, until=60), day=60, liquid_pct_of_fats=42.0, cut_after_hours=18.0))
    assert texts(verdict)[:2] == [
        "Day 60; its latest day is 56.",
        "Losing 1.2 % a week; dry enough at 0.75 % or less.",
    ]
    assert "Its liquid was 42 % of the fats; 28 to 38 % is usual." in texts(verdict)
    assert "Cut after 18 hours; one to three days is usual." in texts(verdict)
    assert "Next time cut after one to three days." in verdict.advice
    assert any("plan less liquid" in step for step in verdict.advice)


def test_too_soft_names_the_water_share_where_the_liquid_is_not_known():
    verdict = assess(batch(losing(1.2, until=60), day=60, water_share=0.28))
    assert "28 % of the fresh bar was water; usual recipes stay under 25 %." in texts(verdict)


@pytest.mark.parametrize(
    ("known", "said"),
    [
        ({}, "Its liquid, its water share and the time to its cut are not on record: no cause shows."),
        ({"cut_after_hours": 60.0}, "Looked at and not unusual: the cut after 2.5 days."),
        (
            {"liquid_pct_of_fats": 38.0, "water_share": 0.25, "cut_after_hours": 24.0},
            "Looked at and not unusual: liquid at 38 % of the fats, water at 25 % of the fresh bar and the cut after 24 hours.",
        ),
    ],
    ids=["nothing known", "one known", "all usual"],
)
def test_too_soft_says_what_was_looked_at_where_no_figure_explains_it(known, said):
    verdict = assess(batch(losing(1.2, until=60), day=60, **known))
    assert not [r for r in verdict.reasons if r.code.startswith("cause")]
    assert reason(verdict, "no_cause").text == said
    assert any("lye weighed short" in step and "a damp or cold place" in step for step in verdict.advice)


@pytest.mark.parametrize(
    ("known", "text", "next_time"),
    [
        (
            EffectiveSuperfat(9.1, 7.0, 11.5),
            "Its superfat, the milk's own fat counted, was 9.1 % (may have been 7 to 12 %); from about 8 % on bars stay soft.",
            "Next time set a lower superfat",
        ),
        (
            EffectiveSuperfat(8.0),
            "Its superfat, the milk's own fat counted, was 8 %; from about 8 % on bars stay soft.",
            "Next time set a lower superfat",
        ),
        (
            EffectiveSuperfat(6.5, 4.5, 8.5),
            "Its superfat, the milk's own fat counted, was reckoned at 6.5 % (may have been 4.5 to 8.5 %); "
            "from about 8 % on bars stay soft.",
            "then you know whether it was that",
        ),
        (
            EffectiveSuperfat(9.1, 5.0, 11.5, may_be_caustic=True),
            "Its superfat, the milk's own fat counted, was 9.1 % (may have been 5 to 12 %); from about 8 % on bars stay soft.",
            "do not set it lower before",
        ),
    ],
)
def test_a_high_superfat_is_a_cause(known, text, next_time):
    verdict = assess(batch(losing(1.2, until=60), day=60, superfat=known))
    assert reason(verdict, "cause_superfat").text == text
    assert any(next_time in step for step in verdict.advice)
    assert not any("Look yourself" in step for step in verdict.advice)
    if known.may_be_caustic:
        assert not any("set a lower superfat" in step for step in verdict.advice)


def test_a_usual_superfat_was_looked_at():
    verdict = assess(batch(losing(1.2, until=60), day=60, superfat=EffectiveSuperfat(5.0, 3.2, 6.9)))
    said = "Looked at and not unusual: an effective superfat of 5 % (may have been 3.2 to 6.9 %)."
    assert reason(verdict, "no_cause").text == said
    assert any("lye weighed short, much of fats that stay soft" in step for step in verdict.advice)


def test_causes_are_named_only_when_it_is_too_soft():
    verdict = assess(batch(losing(1.2, until=28), day=28, liquid_pct_of_fats=50.0))
    assert not [r for r in verdict.reasons if r.code.startswith("cause")]


def test_too_soft_by_the_thumb_says_the_thumb_first():
    bars = [losing(0.5, until=35)] * 3
    dents = (Firmness.DENTS, Firmness.DENTS, Firmness.FIRM)
    verdict = assess(batch(*bars, day=35, firmness=dents))
    assert texts(verdict)[0] == "2 of 3 bars dent under the thumb."
    assert any("Press again" in step for step in verdict.advice)


@pytest.mark.parametrize(
    ("firmness", "text"),
    [
        ((Firmness.DENTS, Firmness.FIRM, Firmness.FIRM), "1 of 3 bars dents under the thumb."),
        ((Firmness.FIRM, Firmness.GIVES), "No bar dents under the thumb."),
    ],
)
def test_firmness_notes_are_told_even_if_they_decide_nothing(firmness, text):
    verdict = assess(batch(*[losing(0.5, until=35)] * 3, day=35, firmness=firmness))
    assert reason(verdict, "firmness").text == text


def test_a_late_first_weighing_is_said():
    verdict = assess(batch(series((5, 118), (12, 114)), day=12))
    assert reason(verdict, "late_start").text == (
        "No bar was weighed at the cut: the total loss is that since its first weighing on day 5."
    )


def test_more_lost_than_there_was_water_is_asked_about():
    verdict = assess(batch(series((0, 100), (28, 85)), day=28, water_share=0.1))
    assert "lost 150 % of the water that went in, more than there was" in reason(verdict, "more_than_its_water").text


def test_water_is_said_against_its_limit():
    bar = series((0, 125), (21, 115), (28, 115))
    above = assess(batch(bar, day=28, water_share=0.2), RuleLimits(water_left_limit_pct=50))
    below = assess(batch(bar, day=28, water_share=0.2), RuleLimits(water_left_limit_pct=70))
    assert "60 % of its water is still in it; dry enough at 50 % or less." in texts(above)
    assert "60 % of its water is still in it; 70 % or less is dry enough." in texts(below)


def test_no_sentence_names_a_unit_of_weight():
    verdict = assess(batch(losing(1.2, until=60), day=60, water_share=0.28, cut_after_hours=12.0))
    words = " ".join([*texts(verdict), *verdict.advice]).split()
    assert not {"g", "oz", "grams", "ounces"} & set(words)


def test_too_soft_says_its_day_once():
    verdict = assess(batch(losing(1.2, until=70), day=70))
    assert sum("Day 70" in text for text in texts(verdict)) == 1
    assert texts(verdict)[0] == "Day 70; its latest day is 56."


def test_a_dry_batch_is_not_told_its_latest_day():
    verdict = assess(batch(losing(0.5, until=70), day=70))
    assert verdict.state is State.READY
    assert "past_latest" not in [r.code for r in verdict.reasons]
    assert "Day 70; old enough from day 28." in texts(verdict)


def test_never_weighed_is_said_as_that():
    verdict = assess(batch((), day=20))
    assert texts(verdict)[0] == "Never weighed; the cut was 20 days ago."


def test_a_batch_without_sample_bars_is_to_be_given_some():
    assert assess(batch(day=3)).advice == ("Mark three to five bars as sample bars and weigh them.",)


@pytest.mark.parametrize(
    ("bar", "step"),
    [
        (losing(2.0, until=14), "Weigh the sample bars now."),
        (series((0, 120.0)), "Weigh the sample bars now and again in a week; then the weekly loss is known."),
    ],
)
def test_what_was_to_be_weighed_a_week_ago_is_to_be_weighed_now(bar, step):
    newest = int(bar[-1].day)
    assert assess(batch(bar, day=newest + 8)).advice == (step,)


def test_a_limit_of_water_without_a_water_share_says_the_limit():
    verdict = assess(batch(losing(0.5, until=28), day=28), RuleLimits(water_left_limit_pct=35))
    assert reason(verdict, "no_water_left").text == (
        "Dry enough at 35 % of its water left or less; how much is left is not known, "
        "since the fresh bar's water share is missing."
    )


@pytest.mark.parametrize(("noted_on", "state"), [(7, State.READY), (24.9, State.READY), (25, State.TOO_SOFT)])
def test_a_dent_noted_long_before_the_newest_weighing_says_nothing_of_a_dry_bar(noted_on, state):
    bar = SampleSeries("A", losing(0.5, until=35), Firmness.DENTS, noted_on)
    at_moment = BatchAtMoment(35, 35.0, (bar,), CheckOutcome.PASSED)
    verdict = assess(at_moment)
    assert verdict.state is state
    assert ("dents" in [r.code for r in verdict.reasons]) is (state is State.TOO_SOFT)
