"""Acids that cannot be meant: more than the soap's own lye is refused, much of them and odd strengths are asked about."""

from dataclasses import replace

import pytest

from curehouse.core.chemistry.acids import ACIDS, Acid, acids_mol, usual_strengths
from curehouse.core.chemistry.finding import Finding, Level
from curehouse.core.chemistry.findings import judge
from curehouse.core.chemistry.words import told

from .test_findings import PLAIN

ABOUT = ("acid_over_lye", "acid_over_fats", "acid_much", "acid_strength_odd")


def found(*acids: Acid) -> list[Finding]:
    return [one for one in judge(replace(PLAIN, acids=acids)).findings if one.code in ABOUT]


def test_more_acid_than_the_fats_lye_is_refused_with_what_would_do() -> None:
    # 1 kg of these fats takes 142.2 g of pure NaOH at 5 %: 227.7 g of anhydrous citric acid eat as much.
    assert [one.code for one in found(Acid("citric", 227, "anhydrous"))] == ["acid_much"]
    (refused,) = found(Acid("citric", 228, "anhydrous"))
    assert (refused.level, refused.code) == (Level.REFUSAL, "acid_over_lye")
    words = told(refused, lambda grams: f"{grams:.1f} g")
    assert "228.0 g of acid" in words.says
    assert "142.4 g" in words.says  # 228 x 0.6246
    # A fifth of all lye: a quarter of what the fats take.
    assert words.remedy.startswith("Take 56.9 g of acid or less")


@pytest.mark.parametrize("acid", [Acid("citric", 4000, "anhydrous"), Acid("lactic", 4000)])
def test_more_acid_than_fats_is_refused_whatever_its_strength(acid: Acid) -> None:
    (refused,) = found(acid)
    assert (refused.level, refused.code) == (Level.REFUSAL, "acid_over_fats")
    assert refused.figures == {"acid_g": 4000, "fats_g": 1000}


def test_from_a_fifth_of_the_lye_on_acid_is_confirmed_with_its_share() -> None:
    assert found(Acid("citric", 56.8, "anhydrous")) == []
    (asked,) = found(Acid("citric", 80, "anhydrous"))
    assert (asked.level, asked.needs_confirming, asked.needs_check) == (Level.WARNING, True, True)
    # 49.96 g of 192.15 g.
    assert asked.read_as == "acid_much:0.2600"
    assert "26" in told(asked, lambda grams: f"{grams:.1f} g").says


def test_two_acids_are_counted_together() -> None:
    both = (Acid("citric", 40, "anhydrous"), Acid("malic", 40, "anhydrous"))
    assert [one.code for one in found(*both)] == ["acid_much"]


def test_less_acid_than_was_read_is_not_asked_about_again_and_more_is() -> None:
    (asked,) = found(Acid("citric", 80, "anhydrous"))
    assert asked.was_read([asked.read_as])
    # Another size of batch moves it by less than a tenth of a point.
    assert asked.was_read(["acid_much:0.2595", "acid_much:"])
    assert asked.was_read(["acid_much:0.3"])
    for said in ("acid_much:0.25", "acid_much:", "acid_much:nan", "acid_much:inf", "acid_much:7"):
        assert asked.was_read([said]) is None


@pytest.mark.parametrize(
    ("name", "strength"),
    [("lactic", 0.8), ("lactic", 0.88), ("acetic", 0.05), ("acetic", 0.25), ("acetic", 0.99), ("citric", 0.5)],
)
def test_a_strength_that_is_sold_is_not_asked_about(name: str, strength: float) -> None:
    assert found(Acid(name, 10, "solution", strength)) == []


@pytest.mark.parametrize(
    ("name", "form", "strength"),
    [("lactic", "solution", 0.08), ("acetic", "solution", 0.5), ("acetic", None, 0.005), ("citric", "anhydrous", 0.5)],
)
def test_a_strength_that_is_not_sold_is_confirmed_by_its_figure(name: str, form: str | None, strength: float) -> None:
    (asked,) = found(Acid(name, 10, form, strength))
    assert (asked.code, asked.needs_confirming, asked.needs_check) == ("acid_strength_odd", True, True)
    assert asked.read_as == f"acid_strength_odd:{name}:{strength:.4f}"
    words = told(asked, lambda grams: f"{grams:.1f} g")
    assert f"{strength * 100:g}\u00a0%" in words.says
    assert asked.was_read([f"acid_strength_odd:{name}:0.6000"]) is None


def test_every_form_has_strengths_that_it_is_sold_at() -> None:
    for name, forms in ACIDS.items():
        for form in forms.values():
            strengths = usual_strengths(name, form)
            assert all(0 < low < high <= 1 for low, high in strengths)
            assert form.is_solution or strengths == ((0.95, 1.0),)


def test_citric_acid_in_water_eats_what_its_strength_says_and_open_counts_as_dry() -> None:
    # 0.624 g of NaOH a gram of the dry acid, 0.571 of the monohydrate: an unknown form counts the lower.
    for acid, eaten in (
        (Acid("citric", 10, "solution", 0.5), 0.624 * 5),
        (Acid("citric", 10), 0.571 * 10),
        (Acid("citric", 10, "solution"), 0.0),
    ):
        assert acids_mol([acid]).middle * 39.997 == pytest.approx(eaten, rel=1e-3, abs=1e-9)
    assert Acid("citric", 10, "solution", 0.5).water_g == 5
    assert Acid("citric", 10, "solution").strength_is_open
    assert not Acid("citric", 10).strength_is_open
