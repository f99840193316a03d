"""What a list of formulas says of its lye is read; what it says besides is named as left out."""

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from curehouse.making.models import Formula, FormulaVersion
from tests.flows.bring_in.test_bring_formulas import GOAT, formulas
from tests.world import World

pytestmark = pytest.mark.django_db

HEAD = ("Formula", "Material", "Amount", "Superfat", "NaOH %", "KOH %", "NaOH purity %", "KOH purity %")


@pytest.fixture(autouse=True)
def _folder(settings: Any, tmp_path: Path) -> None:
    settings.DATA_FOLDER = tmp_path / "house"
    settings.DATA_FOLDER.mkdir()


def test_a_mixed_lye_comes_in_with_its_shares_and_purities(world: World, tmp_path: Path) -> None:
    rows = [
        ("Shaving", "olive oil", "1000 g", "8 %", "40", "60", "99", "90"),
        ("Shaving", "water", "320 g", "", "", "", "", ""),
        ("Shaving", "NaOH", "50 g", "", "", "", "", ""),
        ("Shaving", "KOH", "120 g", "", "", "", "", ""),
    ]
    outcome = formulas(world, tmp_path, *rows, head=HEAD)
    assert (outcome.adds["formulas"], outcome.refused_rows) == (1, 0), outcome
    version = FormulaVersion.objects.within(world.workshop).get()
    said = (version.naoh_share, version.naoh_purity, version.koh_purity)
    assert said == (Decimal("0.4"), Decimal("0.99"), Decimal("0.9"))
    # 170 g stand in the file.
    assert any("the file has 170.0 g of lye" in one for one in outcome.remarks)


@pytest.mark.parametrize(
    ("shares", "why"),
    [
        (("40", "", "", ""), "purity of this one is missing"),
        (("40", "50", "", "90"), "do not make 100 % together"),
        (("140", "", "", ""), "is no share of NaOH"),
        (("100", "", "250", ""), "is no purity of the NaOH"),
    ],
)
def test_shares_of_lye_that_cannot_be_are_named(world: World, tmp_path: Path, shares: tuple[str, ...], why: str) -> None:
    rows = [("Plain", "olive oil", "1000 g", "8 %", *shares), ("Plain", "water", "320 g", "", "", "", "", "")]
    outcome = formulas(world, tmp_path, *rows, head=HEAD)
    assert why in " ".join(one.why for one in outcome.refusals)
    assert not Formula.objects.within(world.workshop).exists()


def test_what_of_a_list_is_not_read_is_said(world: World, tmp_path: Path) -> None:
    head = ("Formula", "Material", "Amount", "Superfat", "SAP", "Grandma")
    rows = [("Plain", "olive oil", "1000 g", "8 %", "0.134", "yes"), ("Plain", "water", "320 g", "", "", "")]
    outcome = formulas(world, tmp_path, *rows, head=head)
    assert outcome.adds["formulas"] == 1
    assert any("counted in no formula: “SAP”, “Grandma”." in one for one in outcome.remarks)
    assert not any("counted in no formula" in one for one in formulas(world, tmp_path, *GOAT).remarks)


def test_an_oil_by_another_of_its_names_is_found_and_one_that_says_too_little_is_told(world: World, tmp_path: Path) -> None:
    rows = [(row[0], {"Olive oil": "Extra virgin olive oil"}.get(row[1], row[1]), *row[2:]) for row in GOAT]
    assert formulas(world, tmp_path, *rows).adds["formulas"] == 1
    rows = [("Other", {"Olive oil": "Rapeseed oil"}.get(row[1], row[1]), *row[2:]) for row in GOAT]
    assert "perhaps “rapeseed oil (canola)”" in " ".join(one.why for one in formulas(world, tmp_path, *rows).refusals)
