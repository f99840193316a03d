"""Values that no lot has, the water of acids, and lye in cold milk: what is found of them, in figures."""

from dataclasses import replace

import pytest

from curehouse.core.chemistry.acids import Acid
from curehouse.core.chemistry.bounds import Bounds
from curehouse.core.chemistry.findings import judge
from curehouse.core.chemistry.words import told

from .test_findings import FRONT, PLAIN, WIDE, found, grams, milk, olive, sour, with_liquids


def test_the_water_of_acids_is_liquid_like_any_other() -> None:
    # 300 g of vinegar of 5 % bring 285 g of water beside the 380 g.
    figures = judge(sour(300, 380)).figures
    assert figures is not None
    assert (figures.liquid_g, figures.liquid_share) == (pytest.approx(665), pytest.approx(0.665))
    assert figures.free_water_g.middle == pytest.approx(665)
    assert (figures.acids_water_g, figures.front_g) == (pytest.approx(285), 380)
    said = found(sour(300, 380), "liquid_high_with_acids")
    assert said is not None
    assert "With the 285.0 g of water that the acids bring the liquid is 66.5\u00a0% of the fats" in told(said, grams).says
    # Nobody said how strong it is: no acid is counted, so all of it is water.
    weak = judge(replace(PLAIN, acids=(Acid("acetic", 300, "solution"),))).figures
    assert weak is not None
    assert weak.acids_water_g == 300


def test_what_cold_milk_dissolves_is_said_in_figures() -> None:
    said = found(with_liquids(milk(330, FRONT)), "milk_front_cold")
    assert said is not None
    # 330 x 0.8703 = 287.2 g of water, 42 g in 100 g: 120.6 g of pure lye, 121.8 g of this one of 99 %.
    assert "dissolve 121.8 g of the 143.6 g of lye" in told(said, grams).says
    assert not judge(with_liquids(milk(330, FRONT))).is_refused


def test_only_what_is_far_outside_is_refused_and_what_it_would_do_is_said() -> None:
    far = found(olive(certificate=256.0), "certificate_far_outside")
    assert far is not None
    # 0.95 x 256 / 190 = 1.28.
    assert "the superfat is \u221228\u00a0%" in told(far, grams).says
    assert found(olive(certificate=256.0), "certificate_outside_range") is None
    assert found(olive(own=WIDE), "own_range_outside_list") is None


def test_a_certificate_outside_of_the_list_is_asked_about_though_it_lies_in_one_s_own_range() -> None:
    asked = found(olive(certificate=210.0, own=Bounds.between(200, 215)), "certificate_outside_range")
    assert asked is not None
    assert (asked.figures["low"], asked.figures["high"]) == ("184", "196")
