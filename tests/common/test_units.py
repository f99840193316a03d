"""Weights as people type them, in grams and in ounces."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curehouse.common.errors import Invalid
from curehouse.common.units import GRAMS_PER_OUNCE, from_grams, parse_mass_g, parse_number, show_at_least, show_mass, to_grams


def grams(text: str, unit: str = "g") -> Decimal:
    return parse_mass_g(text, unit, field="weight", what="The weight")


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("118.6", "118.6"),
        ("118,6", "118.6"),
        (" 118.6 ", "118.6"),
        ("118.", "118"),
        (",5", "0.5"),
        ("\u00a0118,6\u00a0", "118.6"),
    ],
)
def test_a_weight_is_read_with_point_or_comma(typed: str, read: str) -> None:
    assert grams(typed) == Decimal(read)


def test_an_ounce_is_the_international_avoirdupois_ounce() -> None:
    # NIST Handbook 44, Appendix C: 1 oz = 28.349 523 125 g, exactly; 16 oz = 453.592 37 g.
    assert Decimal("453.59237") == GRAMS_PER_OUNCE * 16
    assert grams("4.18", "oz") == Decimal("118.501")


@pytest.mark.parametrize(
    "typed",
    ["1,234.5", "1.234,5", "1 234", "118.6g", "1e3", "--3", ".", ",", "nan", "Infinity", "0x10", "1_000", "١١٨", "１１８"],
)
def test_what_is_not_one_plain_figure_is_refused_by_name(typed: str) -> None:
    with pytest.raises(Invalid) as refused:
        grams(typed)
    assert (refused.value.code, refused.value.field) == ("not_a_number", "weight")
    assert "The weight" in refused.value.message


def test_nothing_typed_is_missing_not_zero() -> None:
    with pytest.raises(Invalid) as refused:
        grams("  ")
    assert refused.value.code == "missing"


@pytest.mark.parametrize(
    ("typed", "unit", "code"),
    [
        ("0", "g", "not_positive"),
        ("-3", "g", "not_positive"),
        ("0.0004", "g", "too_small"),
        ("1000000", "g", "too_large"),
        ("999999", "oz", "too_large"),
        ("9" * 60, "g", "too_long"),
    ],
)
def test_a_weight_out_of_range_is_refused_for_what_it_is(typed: str, unit: str, code: str) -> None:
    with pytest.raises(Invalid) as refused:
        grams(typed, unit)
    assert refused.value.code == code


@given(st.decimals(min_value="0.01", max_value="35000", places=2), st.sampled_from(["g", "oz"]))
def test_a_weight_comes_back_as_it_was_typed(amount: Decimal, unit: str) -> None:
    stored = grams(str(amount).replace(".", ","), unit)
    assert abs(from_grams(stored, unit) - amount) < Decimal("0.001")
    assert to_grams(amount, unit) == stored


def test_a_negative_number_is_a_number() -> None:
    assert parse_number("-2,5", field="note", what="The change") == Decimal("-2.5")


def test_a_mass_is_shown_in_its_unit() -> None:
    assert (show_mass(Decimal("118.6"), "g"), show_mass(Decimal("118.6"), "oz")) == ("118.6 g", "4.18 oz")


@pytest.mark.parametrize(
    ("grams", "unit", "shown"),
    [(123.41, "g", "123.5 g"), (200.00000000001, "g", "200.0 g"), (200, "g", "200.0 g"), (100.0, "oz", "3.53 oz")],
)
def test_a_least_mass_is_never_shown_smaller(grams: float, unit: str, shown: str) -> None:
    # 100 g are 3.5274 oz.
    assert show_at_least(grams, unit) == shown
