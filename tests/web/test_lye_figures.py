"""Lye as it is shown: in no unit more than the superfat asks for."""

from decimal import Decimal
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from curehouse.web.reading.formulas import lye_weight
from curehouse.web.reading.pour import lye_figure, lye_grams

OUNCE_G = Fraction(Decimal("28.349523125"))


@given(st.floats(0.01, 900_000))
def test_no_unit_shows_more_lye_than_there_is_to_be(grams: float) -> None:
    exact = Fraction(Decimal(repr(grams)))
    kept = lye_grams(grams)
    assert Fraction(kept) <= exact
    assert exact - Fraction(kept) <= Fraction(1, 1000)
    assert Fraction(Decimal(lye_figure(kept, "g"))) == Fraction(kept)
    ounces = Fraction(Decimal(lye_figure(kept, "oz")))
    assert ounces * OUNCE_G <= exact
    assert exact - ounces * OUNCE_G <= OUNCE_G / 1000 + Fraction(1, 1000)
    for unit, size in (("g", Fraction(1)), ("oz", OUNCE_G)):
        shown = lye_weight(grams, unit)
        assert shown.endswith(f" {unit}")
        assert Fraction(Decimal(shown.removesuffix(f" {unit}"))) * size <= exact
