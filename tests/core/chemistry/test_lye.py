"""How much lye for what fats, held against published values and a table of atomic weights."""

import csv
import math
from pathlib import Path

import pytest
from molmass import Formula as Molecule

from curehouse.core.chemistry.acids import ACIDS, Acid, acids_mol
from curehouse.core.chemistry.alkali import KOH_G_PER_MOL, NAOH_G_PER_MOL, Alkali, LyePart, certified
from curehouse.core.chemistry.bounds import ZERO, Bounds
from curehouse.core.chemistry.fats import Fat, fats_mol
from curehouse.core.chemistry.lye import LyeAmount, PurityMissing, given, lye_amounts, lye_mol
from curehouse.core.chemistry.superfat import setting_for

from .build import NAOH, OLIVE, olive_and_coconut

REFERENCE = Path(__file__).parents[2] / "reference"


def rows(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def naoh_for(saponification: Bounds, **more: float) -> LyeAmount:
    (amount,) = lye_amounts(
        fats_mol=fats_mol([Fat("fat", 1000, saponification)]),
        acids_mol=ZERO,
        superfat=more.get("superfat", 0.0),
        parts=NAOH,
        step_g=0.1,
    )
    return amount


def test_molar_masses_are_those_of_the_atomic_weights() -> None:
    assert pytest.approx(Molecule("NaOH").mass, abs=0.001) == NAOH_G_PER_MOL
    assert pytest.approx(Molecule("KOH").mass, abs=0.001) == KOH_G_PER_MOL


@pytest.mark.parametrize(
    ("acid", "form", "molecule"),
    [
        ("citric", "anhydrous", "C6H8O7"),
        ("citric", "monohydrate", "C6H10O8"),
        ("citric", "solution", "C6H8O7"),
        ("lactic", "solution", "C3H6O3"),
        ("acetic", "solution", "C2H4O2"),
        ("tartaric", "anhydrous", "C4H6O6"),
        ("tartaric", "monohydrate", "C4H8O7"),
        ("malic", "anhydrous", "C4H6O5"),
        ("ascorbic", "anhydrous", "C6H8O6"),
    ],
)
def test_an_acid_form_has_the_mass_of_its_molecule(acid: str, form: str, molecule: str) -> None:
    assert ACIDS[acid][form].g_per_mol == pytest.approx(Molecule(molecule).mass, abs=0.002)


def test_every_acid_form_is_held_against_a_molecule() -> None:
    assert sum(len(forms) for forms in ACIDS.values()) == 9


@pytest.mark.parametrize(
    ("acid", "naoh_g"),
    [
        (Acid("citric", 1, "anhydrous"), 0.624),
        (Acid("citric", 1, "monohydrate"), 0.571),
        (Acid("citric", 1), 0.571),
        (Acid("lactic", 1, "solution", 1.0), 0.444),
        (Acid("lactic", 1, "solution", 0.8), 0.355),
        (Acid("lactic", 1), 0.0),
    ],
)
def test_a_gram_of_acid_eats_so_much_lye(acid: Acid, naoh_g: float) -> None:
    mol = acids_mol([acid]).middle
    assert mol * NAOH_G_PER_MOL == pytest.approx(naoh_g, abs=0.0006)
    assert mol * KOH_G_PER_MOL == pytest.approx(naoh_g * 1.403, abs=0.001)


def test_an_unknown_form_may_still_be_the_one_that_eats_most() -> None:
    assert acids_mol([Acid("citric", 1)]).high == acids_mol([Acid("citric", 1, "anhydrous")]).middle


@pytest.mark.parametrize("row", rows("saponification_values.csv"), ids=lambda row: row["fat"])
def test_a_published_range_of_a_fat_is_the_range_of_its_lye(row: dict[str, str]) -> None:
    low, high = float(row["SV_min"]), float(row["SV_max"])
    amount = naoh_for(Bounds.between(low, high))
    assert amount.exact_g == pytest.approx((low + high) / 2 * 0.71288, rel=1e-4)
    assert amount.needed_g.low == pytest.approx(low * 0.71288, rel=1e-4)
    # The lye itself may be as weak as it is sold without a certificate.
    assert amount.needed_g.high == pytest.approx(high * 0.71288 / 0.95, rel=1e-4)


RANGES = {row["fat"].partition(" ")[0]: row for row in rows("saponification_values.csv") if "cross" not in row["fat"]}
COMPUTED = {
    "rice bran": "rice",
    "soya": "soya",
    "coconut": "coconut",
    "olive": "olive",
    "sesame": "sesame",
    "cocoa butter": "cocoa",
    "grapeseed": "grapeseed",
    "babassu": "babassu",
    "beef tallow": "edible",
    "lard": "lard",
    "Butter oil, anhydrous": "milk",
}


@pytest.mark.parametrize("row", [one for one in rows("saponification_computed.csv") if one["fat"] in COMPUTED], ids=str)
def test_lye_from_measured_fatty_acids_lies_between_the_ends(row: dict[str, str]) -> None:
    published = RANGES[COMPUTED[row["fat"]]]
    amount = naoh_for(Bounds.between(float(published["SV_min"]), float(published["SV_max"])))
    grams = 1000 * float(row["computed_SV_pure_TAG_mgKOH_g"]) / 1000 / 56.1056 * 39.9971
    assert amount.needed_g.low <= grams <= amount.needed_g.high
    assert grams == pytest.approx(amount.exact_g, rel=0.03)


def test_the_superfat_is_left_out_and_rounded_down_to_the_step() -> None:
    amount = naoh_for(OLIVE, superfat=0.05)
    # 1000 x 0.190 x 39.997 / 56.106 x 0.95
    assert amount.exact_g == pytest.approx(128.6745, abs=0.001)
    assert amount.weigh_g == 128.6


def test_a_certificate_beats_the_published_range() -> None:
    fat = Fat("olive oil", 1000, OLIVE, certificate=188.0)
    assert fats_mol([fat]).middle == pytest.approx(188 / 56.106)
    assert fats_mol([fat]).high < 196 / 56.106
    assert not fat.certificate_is_odd
    assert Fat("olive oil", 1000, OLIVE, certificate=135.0).certificate_is_odd


def test_a_mix_shares_the_equivalents_and_each_has_its_own_purity() -> None:
    parts = (LyePart(Alkali.NAOH, 0.95, certified(0.99)), LyePart(Alkali.KOH, 0.05, certified(0.90)))
    naoh, koh = lye_amounts(fats_mol=fats_mol(olive_and_coconut()), acids_mol=ZERO, superfat=0.05, parts=parts, step_g=0.1)
    mol = (700 * 0.190 + 300 * 0.2565) / 56.106 * 0.95
    assert naoh.exact_g == pytest.approx(mol * 0.95 * 39.997 / 0.99)
    assert koh.exact_g == pytest.approx(mol * 0.05 * 56.106 / 0.90)
    assert lye_mol((naoh, koh)).middle == pytest.approx(mol, rel=1e-3)
    assert lye_mol((naoh, koh)).middle <= mol


def test_without_a_certificate_sodium_hydroxide_counts_as_pure_and_potassium_hydroxide_not_at_all() -> None:
    assert LyePart(Alkali.NAOH).counted_purity == 1.0
    with pytest.raises(PurityMissing):
        lye_amounts(fats_mol=Bounds.exactly(1), acids_mol=ZERO, superfat=0, parts=(LyePart(Alkali.KOH),), step_g=0.1)
    with pytest.raises(PurityMissing):
        given([(LyePart(Alkali.KOH), 100.0)])


@pytest.mark.parametrize(("assay", "counted"), [(1.005, 1.0), (1.0, 1.0), (0.985, 0.985)])
def test_an_assay_over_a_hundred_counts_a_hundred(assay: float, counted: float) -> None:
    assert certified(assay).middle == counted
    assert certified(assay).high <= 1


@pytest.mark.parametrize(
    ("butterfat", "share_of_fats", "points"),
    # What makers say, with no source: 9 % butterfat at a third of the fats is worth the points between
    # a setting of 2 % and one of 5 %. And milk of 6 % fat at 32 % of the fats adds about two.
    [(0.09, 1 / 3, 0.03), (0.06, 0.32, 0.02)],
)
def test_rich_milk_is_worth_the_points_that_makers_say(butterfat: float, share_of_fats: float, points: float) -> None:
    fats = fats_mol([Fat("palm and olive", 1000, Bounds.between(190, 200))]).middle
    milk = 1000 * share_of_fats * butterfat * 0.2265 / 56.106
    setting = setting_for(effective=0.05, fats_mol=fats, milk_mol=milk)
    assert 0.05 - setting == pytest.approx(points, abs=0.006)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: Fat("olive oil", 1000),
        lambda: Fat("olive oil", 0, OLIVE),
        lambda: Fat("olive oil", math.nan, OLIVE),
        lambda: Fat("olive oil", 1000, certificate=0.19),
        lambda: Fat("olive oil", 1000, certificate=1900),
        lambda: Acid("citric", 10, "powder"),
        lambda: Acid("lactic", 10, strength=88),
        lambda: certified(99),
        lambda: certified(0),
        lambda: Bounds(2, 1, 3),
        lambda: LyePart(Alkali.NAOH, 1.5),
        lambda: LyePart(Alkali.NAOH, 1.0, Bounds(0.9, 1.0, 1.1)),
        lambda: given([(LyePart(Alkali.NAOH), -1.0)]),
    ],
)
def test_what_cannot_be_is_refused(wrong: object) -> None:
    with pytest.raises(ValueError):
        wrong()


@pytest.mark.parametrize("shares", [(0.5, 0.4), (0.7, 0.7)])
def test_shares_that_make_no_whole_are_refused(shares: tuple[float, float]) -> None:
    parts = (LyePart(Alkali.NAOH, shares[0]), LyePart(Alkali.KOH, shares[1], certified(0.9)))
    with pytest.raises(ValueError, match="whole"):
        lye_amounts(fats_mol=Bounds.exactly(1), acids_mol=ZERO, superfat=0, parts=parts, step_g=0.1)


def test_what_may_be_needed_counts_the_purity_too() -> None:
    parts = (LyePart(Alkali.KOH, 1.0, certified(0.90)),)
    (koh,) = lye_amounts(fats_mol=fats_mol([Fat("fat", 1000, OLIVE)]), acids_mol=ZERO, superfat=0.05, parts=parts, step_g=0.1)
    # 184 and 196 g of pure potassium hydroxide, as strong as 90.5 % and as weak as 89.5 %.
    assert koh.needed_g.low == pytest.approx(184 * 0.95 / 0.905)
    assert koh.needed_g.high == pytest.approx(196 * 0.95 / 0.895)
