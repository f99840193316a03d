"""Fatty acids by what they are, against molar masses and measured fats."""

import csv
import random
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from molmass import Formula as Molecule

from curehouse.core.chemistry.fatty_acids import FATTY_ACIDS, GROUP_WORDS, Group, grouped, saponification_value

REFERENCE = Path(__file__).parents[2] / "reference"


@pytest.mark.parametrize(
    ("name", "molecule"),
    [
        ("c4_0", "C4H8O2"),
        ("c12_0", "C12H24O2"),
        ("c16_0", "C16H32O2"),
        ("c16_1", "C16H30O2"),
        ("c18_0", "C18H36O2"),
        ("c18_1", "C18H34O2"),
        ("c18_1_oh", "C18H34O3"),
        ("c18_2", "C18H32O2"),
        ("c18_3", "C18H30O2"),
        ("c22_1", "C22H42O2"),
    ],
)
def test_a_fatty_acid_has_the_mass_of_its_molecule(name: str, molecule: str) -> None:
    assert FATTY_ACIDS[name].g_per_mol == pytest.approx(Molecule(molecule).mass, abs=0.02)


def test_a_pure_triglyceride_takes_three_potassium_hydroxides() -> None:
    triolein = Molecule("C57H104O6").mass
    assert saponification_value({"c18_1": 1.0}) == pytest.approx(3 * Molecule("KOH").mass * 1000 / triolein, rel=1e-4)


@pytest.mark.parametrize(
    "row", list(csv.DictReader((REFERENCE / "saponification_computed.csv").open(encoding="utf-8"))), ids=lambda row: row["fat"]
)
def test_the_value_follows_from_the_mean_mass_of_measured_acids(row: dict[str, str]) -> None:
    # Two saturated acids mixed so that their mean mass is the measured one: only the mean matters.
    mean, light, heavy = float(row["mean_FA_mw"]), FATTY_ACIDS["c4_0"].g_per_mol, FATTY_ACIDS["c22_0"].g_per_mol
    part = (1 / mean - 1 / heavy) / (1 / light - 1 / heavy)
    value = saponification_value({"c4_0": part, "c22_0": 1 - part})
    assert value == pytest.approx(float(row["computed_SV_pure_TAG_mgKOH_g"]), abs=0.15)


@pytest.mark.parametrize(
    ("name", "group"),
    [
        ("c12_0", Group.SHORT),
        ("c14_0", Group.SHORT),
        ("c16_0", Group.LONG),
        ("c18_0", Group.LONG),
        ("c18_1", Group.ONE_DOUBLE),
        ("c18_1_oh", Group.ONE_DOUBLE),
        ("c18_2", Group.MORE_DOUBLE),
        ("c18_3", Group.MORE_DOUBLE),
    ],
)
def test_an_acid_is_grouped_by_what_it_is(name: str, group: Group) -> None:
    assert FATTY_ACIDS[name].group is group


def test_groups_come_largest_first_and_say_of_how_much_they_speak() -> None:
    olive, coconut = {"c18_1": 0.7, "c16_0": 0.2, "c18_2": 0.1}, {"c12_0": 0.9, "c16_0": 0.1}
    groups = grouped([(600, olive), (200, coconut), (200, None)])
    assert [(one.group, one.share) for one in groups.shares] == [
        (Group.ONE_DOUBLE, pytest.approx(420 / 800)),
        (Group.SHORT, pytest.approx(180 / 800)),
        (Group.LONG, pytest.approx(140 / 800)),
        (Group.MORE_DOUBLE, pytest.approx(60 / 800)),
    ]
    assert groups.known == pytest.approx(0.8)
    assert grouped([(100, None)]).shares == ()
    assert set(GROUP_WORDS) == set(Group)


profiles = st.dictionaries(st.sampled_from(sorted(FATTY_ACIDS)), st.floats(0.01, 1), min_size=1).map(
    lambda raw: {name: share / sum(raw.values()) for name, share in raw.items()}
)


@given(st.lists(st.tuples(st.floats(1, 5000), profiles), min_size=1, max_size=6), st.randoms(use_true_random=False))
def test_groups_make_a_whole_in_any_order(fats: list[tuple[float, dict[str, float]]], chance: random.Random) -> None:
    groups = grouped(fats)
    assert sum(one.share for one in groups.shares) == pytest.approx(1)
    shares = [one.share for one in groups.shares]
    assert shares == sorted(shares, reverse=True)
    chance.shuffle(fats)
    assert grouped(fats) == groups


@pytest.mark.parametrize("profile", [{}, {"oleic": 1.0}, {"c18_1": 70.0}, {"c18_1": -0.1, "c16_0": 0.5}])
def test_a_profile_that_cannot_be_is_refused(profile: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="profile"):
        saponification_value(profile)
