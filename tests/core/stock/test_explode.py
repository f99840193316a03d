"""What a run needs of each material, with blends within blends."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curehouse.core.stock.explode import blends_first, check_nothing_lost, explode, from_stock_first, needs_of

BLENDS = {"solution": (("lye", 0.5), ("water", 0.5)), "premix": (("solution", 0.25), ("milk", 0.75))}


def test_an_item_that_stands_twice_is_needed_once_for_both() -> None:
    formulas = {"plain": (("olive", 0.6), ("coconut", 0.4), ("olive", 0.1))}
    assert needs_of(formulas, "plain", 2000) == pytest.approx({"olive": 1400, "coconut": 800})


def test_a_blend_within_a_blend_comes_down_to_its_parts() -> None:
    needs = {"olive": 1000.0, "premix": 800.0, "solution": 100.0, "water": 7.0}
    assert explode(needs, BLENDS) == pytest.approx({"olive": 1000, "milk": 600, "lye": 150, "water": 157})
    assert needs["premix"] == 800, "what was handed in is left as it is"
    assert blends_first(BLENDS) == ("premix", "solution")


@given(st.dictionaries(st.sampled_from(["premix", "solution", "lye", "milk", "olive"]), st.floats(0, 1e6)))
def test_no_gram_is_lost_or_won(needs: dict[str, float]) -> None:
    parts = explode(needs, BLENDS)
    assert sum(parts.values()) == pytest.approx(sum(needs.values()))
    assert not set(parts) & set(BLENDS)


def test_where_something_is_lost_more_goes_in_than_comes_of_it() -> None:
    lossy = {"tea": (("herbs", 0.1), ("water", 1.15))}
    assert explode({"tea": 400.0}, lossy) == pytest.approx({"herbs": 40, "water": 460})
    with pytest.raises(ValueError, match=r"the parts of the blend tea come to 125.00% of it"):
        check_nothing_lost(lossy)
    check_nothing_lost(BLENDS)


def test_two_thousand_blends_within_each_other_are_still_their_parts() -> None:
    deep = {f"b{n}": ((f"b{n + 1}", 1.0),) for n in range(2000)}
    assert explode({"b0": 3.0}, deep) == {"b2000": 3.0}


@pytest.mark.parametrize(
    ("blends", "said"),
    [
        ({"a": (("a", 1.0),)}, "cannot be made of itself: a, which is made of a; take one"),
        ({"a": (("b", 1.0),), "b": (("c", 0.5), ("a", 0.5))}, "cannot be made of itself"),
        ({"a": (("lye", 0.5), ("water", 0.4))}, "the parts of the blend a come to 90.00% of it: let them come to 100 %"),
        ({"a": (("lye", 1.5), ("water", -0.5))}, "the blend a has a share of -0.5 of water: give one above zero"),
        ({"a": ()}, "come to 0.00% of it"),
    ],
)
def test_a_blend_that_cannot_be_made_is_refused_with_what_to_do(blends, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        explode({"a": 1.0}, blends)


@pytest.mark.parametrize(
    ("formula", "oil_g", "said"),
    [
        ("other", 1000, "the formula other is not known: enter it, or choose one of plain"),
        ("plain", 0, "oils of 0 g make no run of plain: give a weight above zero"),
        ("plain", -5, "oils of -5 g make no run"),
        ("plain", float("nan"), "oils of nan g make no run"),
        ("odd", 1000, "the formula odd has a share of 0 of olive"),
    ],
)
def test_a_run_that_cannot_be_is_refused_with_what_to_do(formula: str, oil_g: float, said: str) -> None:
    formulas = {"plain": (("olive", 1.0),)} if formula != "odd" else {"odd": (("olive", 0.0),)}
    with pytest.raises(ValueError, match=said):
        needs_of(formulas, formula, oil_g)


def test_of_a_blend_what_is_here_goes_first_and_its_parts_for_the_rest() -> None:
    blends = {"mix": (("rose", 0.75), ("base", 0.5)), "base": (("mint", 1.0),)}
    left = {"mix": 100.0, "base": 30.0}
    assert from_stock_first({"mix": 60.0, "oil": 5.0}, blends, left) == {"mix": 60.0, "oil": 5.0}
    # Of 140 the last 40 are here; of 100 made up 50 are base, and 30 of that.
    assert from_stock_first({"mix": 140.0}, blends, left) == {"mix": 40.0, "rose": 75.0, "base": 30.0, "mint": 20.0}
    assert left == {"mix": 0.0, "base": 0.0}
    assert from_stock_first({"mix": 4.0}, blends, left) == {"rose": 3.0, "mint": 2.0}
