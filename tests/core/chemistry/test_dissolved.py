"""Lye that was dissolved beforehand: how strong it is, and how much of it stands for dry lye."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curehouse.core.chemistry.alkali import UNCERTIFIED_NAOH, Alkali, certified
from curehouse.core.chemistry.bounds import Bounds
from curehouse.core.chemistry.dissolved import (
    dried,
    if_dried,
    in_place_of,
    is_far_from,
    is_outside,
    least_dry,
    may_dry_unseen,
    stays_dissolved,
    strength,
)
from curehouse.core.chemistry.lye import LyeAmount


def amount(weigh_g: float, purity: Bounds) -> LyeAmount:
    return LyeAmount(Alkali.NAOH, purity, weigh_g, weigh_g, Bounds.exactly(weigh_g))


def test_a_solution_is_as_strong_as_the_pure_lye_in_it() -> None:
    # By hand: 200 g of 99.5 % and 50 g of 97 % are 247.5 g, in 500 g.
    found = strength([(200, Bounds.exactly(0.995)), (50, Bounds.exactly(0.97))], made_g=500, step_g=1)
    assert found.middle == pytest.approx(247.5 / 500)
    assert found.high == pytest.approx((200.5 * 0.995 + 50.5 * 0.97) / 499.5)
    assert found.low == pytest.approx((199.5 * 0.995 + 49.5 * 0.97) / 500.5)


def test_what_is_missing_of_it_may_have_been_water() -> None:
    plain = strength([(200, certified(0.99))], made_g=500, step_g=1)
    found = dried(plain, [(500, 450), (30, 27)], step_g=1)
    assert (found.low, found.middle) == (plain.low, plain.middle)
    # By hand: 200.5 g of 99.5 % in 499.5 g, a tenth less than 500 g and than 30 g, each weighed half a gram less.
    assert found.high == pytest.approx(200.5 * 0.995 / 499.5 * 500 / 449.5 * 30 / 26.5)
    assert dried(plain, [(500, 250)], step_g=1).high == pytest.approx(plain.high * 500 / 249.5)
    assert dried(plain, [(500, 20)], step_g=1).high == 1
    with pytest.raises(ValueError, match="half a step"):
        dried(plain, [(30, 0.4)], step_g=1)


def test_a_titration_is_believed_between_the_ends_of_what_was_weighed() -> None:
    wide = Bounds(0.48, 0.5, 0.6)
    assert not any(is_outside(found, wide) for found in (0.47, 0.48, 0.55, 0.6, 0.61))
    assert is_outside(0.45, wide)
    assert is_outside(0.63, wide)


@pytest.mark.parametrize("made_g", [0.4, 100, 200])
def test_what_cannot_be_a_solution_is_none(made_g: float) -> None:
    with pytest.raises(ValueError, match="weighs more"):
        strength([(200, certified(0.99))], made_g=made_g, step_g=1)


@given(
    weigh_g=st.floats(5, 2000), purity=st.floats(0.85, 1), of_lot=st.floats(0.85, 1), share=st.floats(0.05, 0.5),
    made_g=st.floats(50, 5000), step_g=st.sampled_from([0.01, 0.1, 1.0, 5.0]), fine=st.sampled_from([0.01, 0.1, 1.0]),
)  # fmt: skip
def test_a_solution_never_brings_more_alkali_than_the_dry_lye_it_stands_for(
    weigh_g: float, purity: float, of_lot: float, share: float, made_g: float, step_g: float, fine: float
) -> None:
    dry = amount(weigh_g, certified(purity))
    strong = strength([(made_g * share, certified(of_lot))], made_g=made_g, step_g=step_g)
    found_g = in_place_of(dry, strong, step_g=fine)
    assert found_g * strong.middle <= dry.weigh_g * dry.purity.middle * (1 + 1e-9)
    at_worst = (found_g + fine / 2) * strong.high
    assert found_g == 0 or at_worst <= (dry.weigh_g + fine / 2) * dry.purity.high * (1 + 1e-9)


def test_on_a_fine_scale_it_stands_for_nearly_all_of_it() -> None:
    dry = amount(130, UNCERTIFIED_NAOH)
    strong = strength([(500, UNCERTIFIED_NAOH)], made_g=1000, step_g=0.1)
    assert in_place_of(dry, strong, step_g=0.1) == pytest.approx(260, rel=0.001)


def test_how_much_stays_dissolved() -> None:
    # reckoned at 20 °C: 100 g of NaOH and 112 g of KOH in 100 g of water (from memory, tables differ)
    assert stays_dissolved(Alkali.NAOH, pure_g=100, water_g=100)
    assert not stays_dissolved(Alkali.NAOH, pure_g=101, water_g=100)
    assert stays_dissolved(Alkali.KOH, pure_g=112, water_g=100)
    assert not stays_dissolved(Alkali.KOH, pure_g=113, water_g=100)


def test_what_is_asked_about() -> None:
    assert not is_far_from(0.49, 0.5)
    assert is_far_from(0.45, 0.5)
    assert is_far_from(0.5, 0.45)


# Per cent of sodium hydroxide by mass, and the water activity above it at 25 °C (Stokes and Robinson, Ind. Eng. Chem. 41,
# 1949, 2013; from memory).
ABOVE_SODIUM_HYDROXIDE = ((28.15, 0.50), (33.38, 0.35), (37.45, 0.25), (40.00, 0.20), (43.32, 0.15), (48.05, 0.10))


def test_what_may_dry_in_air_of_more_than_a_tenth_of_full_humidity_is_told() -> None:
    assert [may_dry_unseen(Alkali.NAOH, percent / 100) for percent, _activity in ABOVE_SODIUM_HYDROXIDE] == [
        activity > 0.10 for _percent, activity in ABOVE_SODIUM_HYDROXIDE
    ]
    # As much lye of 97 % as water, and hardly less of it.
    assert not may_dry_unseen(Alkali.NAOH, 0.485)
    assert may_dry_unseen(Alkali.NAOH, 0.479)
    assert all(may_dry_unseen(Alkali.KOH, strong) for strong in (0.2, 0.45, 0.528))


def test_the_least_lye_of_a_recipe_is_as_strong_as_that_and_stays_dissolved() -> None:
    least = least_dry(Alkali.NAOH)
    assert least == pytest.approx(0.48 / 0.98)
    assert stays_dissolved(Alkali.NAOH, pure_g=least, water_g=1 - least)
    assert least_dry(Alkali.KOH) is None, "so much of it does not stay dissolved"


def test_of_what_may_have_dried_unseen_the_high_end_is_what_air_leaves_of_it() -> None:
    thin = Bounds(0.3, 0.31, 0.32)
    assert if_dried(Alkali.NAOH, thin) == Bounds(0.3, 0.31, 0.48)
    assert if_dried(Alkali.NAOH, Bounds(0.3, 0.31, 0.6)).high == 0.6, "never weaker than by what a count found"
