"""Doubtful weights: asked about with what they probably are; good ones left alone."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curehouse.core.cure.doubt import DoubtKind, OtherWeight, look_at
from curehouse.core.cure.expected import expected_range
from curehouse.core.cure.rule import SampleSeries

from .build import doubtful, series

OUNCE_G = 28.349523125
OWN = series((0, 131.0), (7, 125.0), (14, 122.2))
# Another bar of the same batch, lighter, weighed in the same round.
LIGHTER = SampleSeries("B", series((0, 118.0), (7, 112.6), (14, 110.1), (21, 108.4)))

# What was put down on day 21 for a bar that weighs about 120.8 g, and what it should be taken for.
FAULTS = {
    "102.8": (102.8, DoubtKind.SWAPPED_DIGITS, 120.8),
    "210.8": (210.8, DoubtKind.SWAPPED_DIGITS, 120.8),
    "1208": (1208.0, DoubtKind.DECIMAL_SLIP, 120.8),
    "12.08": (12.08, DoubtKind.DECIMAL_SLIP, 120.8),
    "last week's weight a tenth of it gone": (115.0, DoubtKind.TOO_LIGHT, None),
    "a gram weight left on the scale": (126.3, DoubtKind.TOO_HEAVY, None),
}


@pytest.mark.parametrize(("weight_g", "kind", "guess_g"), FAULTS.values(), ids=FAULTS)
def test_a_fault_is_taken_for_what_it_is(weight_g, kind, guess_g):
    doubt = look_at(weight_g, OWN, 21)
    assert doubt.kind is kind
    assert doubt.guess_g == (None if guess_g is None else pytest.approx(guess_g))
    assert doubt.lighter is (weight_g < 120)
    assert doubt.difference_g == pytest.approx(weight_g - doubt.expected.middle_g)
    assert doubt.question.endswith("?")


@pytest.mark.parametrize("weight_g", [119.8, 120.4, 120.8, 121.5, 122.2, 122.8])
def test_a_plausible_weight_is_not_asked_about(weight_g):
    assert look_at(weight_g, OWN, 21) is None
    assert look_at(weight_g, OWN, 21, water_share=0.2) is None


def test_the_weight_of_another_sample_bar_is_recognised():
    doubt = look_at(108.4, OWN, 21, batch=(LIGHTER,))
    assert doubt.kind is DoubtKind.NEIGHBOUR
    assert doubt.neighbour == "B"
    assert doubt.question == "Is it bar B?"


def test_the_weight_of_a_bar_of_another_batch_is_recognised():
    near = (OtherWeight("Oat milk A", 99.0), OtherWeight("Oat milk B", 140.0))
    doubt = look_at(98.6, OWN, 21, neighbours=near)
    assert (doubt.kind, doubt.neighbour) == (DoubtKind.NEIGHBOUR, "Oat milk A")


def test_the_nearest_of_several_bars_is_named():
    near = (OtherWeight("Oat milk A", 100.4), OtherWeight("Oat milk B", 98.8))
    assert look_at(98.6, OWN, 21, neighbours=near).neighbour == "Oat milk B"


def test_a_bar_that_could_not_have_lost_so_much_is_not_named():
    doubt = look_at(98.6, OWN, 21, neighbours=(OtherWeight("Oat milk A", 105.0),))
    assert (doubt.kind, doubt.neighbour) == (DoubtKind.TOO_LIGHT, None)


def test_a_known_tare_left_on_the_scale_is_recognised():
    doubt = look_at(146.2, OWN, 21, tares_g=(25.4,))
    assert doubt.kind is DoubtKind.TARE
    assert doubt.guess_g == pytest.approx(120.8)
    assert look_at(95.4, OWN, 21, tares_g=(25.4,)).guess_g == pytest.approx(120.8)


def test_the_last_weight_once_more_is_recognised_where_it_cannot_be():
    # In the first week a bar loses several percent: the very same weight is no weighing.
    doubt = look_at(125.0, series((0, 125.0)), 7, batch=(SampleSeries("B", series((0, 118), (7, 112))),))
    assert doubt.kind is DoubtKind.REPEATED
    assert doubt.guess_g is None


def test_digits_are_swapped_as_typed_in_ounces():
    own = series((0, 4.62 * OUNCE_G), (7, 4.41 * OUNCE_G), (14, 4.31 * OUNCE_G))
    doubt = look_at(2.46 * OUNCE_G, own, 21, typed="2.46", grams_per_unit=OUNCE_G, step_g=0.01 * OUNCE_G)
    assert doubt.kind is DoubtKind.SWAPPED_DIGITS
    assert doubt.guess_g == pytest.approx(4.26 * OUNCE_G)


def test_a_guess_the_scale_cannot_show_is_not_offered():
    # 118.5 swapped gives 115.8, which a scale of half grams never shows.
    own = series((0, 124.0), (7, 119.0), (14, 117.0))
    assert look_at(118.5, own, 21, step_g=0.1, batch=sinking()).guess_g == pytest.approx(115.8)
    assert look_at(118.5, own, 21, step_g=0.5, batch=sinking()).guess_g is None


def sinking() -> tuple[SampleSeries, ...]:
    return tuple(SampleSeries(label, series((0, 124.0), (7, 119.0), (14, 117.0), (21, 115.6))) for label in "BC")


def test_a_first_weight_is_asked_about_only_for_its_decimal_point():
    batch = (SampleSeries("B", series((0, 118))), SampleSeries("C", series((0, 124))))
    assert look_at(1208, (), 0, batch=batch).guess_g == pytest.approx(120.8)
    assert look_at(12.08, (), 0, batch=batch).kind is DoubtKind.DECIMAL_SLIP
    assert look_at(95, (), 0, batch=batch) is None
    assert look_at(150, (), 0, batch=batch) is None


def test_the_very_first_weight_of_a_batch_is_not_asked_about():
    assert look_at(1208, (), 0) is None
    assert look_at(1208, doubtful((0, 120)), 1) is None


@pytest.mark.parametrize("day", [1, 2, 3, 5, 7])
@pytest.mark.parametrize("share", [0.15, 0.20, 0.25, 0.30])
def test_five_to_ten_percent_in_the_first_week_is_plausible(day, share):
    # Common practice, no source: a bar loses 5 to 10 % in its first week, most of it early.
    for week_pct in (5.0, 10.0) if share > 0.15 else (5.0,):
        lost = week_pct / 100 * (day / 7) ** 0.5
        assert look_at(120 * (1 - lost), series((0, 120.0)), day, water_share=share) is None


@pytest.mark.parametrize("gain_pct", [0.2, 0.5])
@pytest.mark.parametrize(
    "own",
    [OWN, series((28, 110.0), (35, 109.2), (42, 108.7)), series((28, 110.0), (42, 109.4))],
    ids=["third week", "seventh week", "after a missed week"],
)
def test_a_humid_week_is_not_asked_about(own, gain_pct):
    newest = own[-1]
    assert look_at(newest.weight_g * (1 + gain_pct / 100), own, newest.day + 7) is None


@pytest.mark.parametrize("weeks_missed", [1, 2, 4, 6])
def test_missed_weeks_are_not_asked_about(weeks_missed):
    usual = [122.2, 120.8, 119.8, 119.1, 118.6, 118.2, 117.9, 117.7]
    assert look_at(usual[weeks_missed + 1], OWN, 21 + 7 * weeks_missed) is None


def test_a_bar_lighter_than_its_dry_weight_is_asked_about_however_long_it_dried():
    doubt = look_at(90.0, series((0, 120.0)), 90, water_share=0.2)
    assert doubt.kind is DoubtKind.TOO_LIGHT


@pytest.mark.parametrize("typed", ["3-0", "12,5", "1e2", "", "1.2.3"])
def test_a_typed_figure_that_is_none_is_refused(typed):
    with pytest.raises(ValueError, match="typed"):
        look_at(300, OWN, 21, typed=typed or " ")


@given(st.floats(1.0, 5000.0), st.integers(15, 80))
def test_a_weight_is_asked_about_exactly_when_range_and_slack_do_not_allow_it(weight_g, day):
    doubt = look_at(weight_g, OWN, day)
    assert (doubt is None) is expected_range(OWN, day).allows(weight_g)
    if doubt is not None and doubt.guess_g is not None:
        assert doubt.expected.allows(doubt.guess_g)
