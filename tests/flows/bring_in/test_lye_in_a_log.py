"""The lye of a cure log is held against its fats, as that of a batch that is typed in."""

from pathlib import Path

import pytest

from curehouse.making.models import Batch
from tests.flows.bring_in.logs import bring, write_csv
from tests.flows.bring_in.test_bring_batches import KOH_HEAD
from tests.flows.bring_in.test_bring_stock import _folder
from tests.world import World

pytestmark = pytest.mark.django_db
__all__ = ["_folder"]

ROW = ("7", "Cream", "2026-01-05", "30 %")
LYE = [("300 g", "yes", True), ("300 g", "no", False), ("280 g", "yes", False)]


@pytest.mark.parametrize(("lye", "still", "is_checked"), LYE)
def test_lye_that_does_not_fit_its_fats_is_said_and_makes_the_check_a_condition(
    world: World, tmp_path: Path, lye: str, still: str, is_checked: bool
) -> None:
    headers = (*KOH_HEAD, "Still curing")
    given = write_csv(tmp_path / "log.csv", headers, [(*ROW, "1500 g", lye, "0", "104", "7", still)])
    outcome = bring(world, given, unit="g")
    assert outcome.refused_rows == 0, outcome.refusals
    batch = Batch.objects.within(world.workshop).get()
    assert (batch.needs_check, batch.check_by_formula) == (is_checked, is_checked)
    said = [one for one in outcome.remarks if "7: 300 g of lye does not fit 1500 g of fats" in one]
    assert len(said) == (lye == "300 g")


def test_more_lye_than_fats_is_refused(world: World, tmp_path: Path) -> None:
    given = write_csv(tmp_path / "log.csv", KOH_HEAD, [(*ROW, "1000 g", "1420 g", "", "104", "7")])
    outcome = bring(world, given, unit="g")
    assert "is not less than its fats: did the two columns change places?" in outcome.refusals[0].why
    assert not Batch.objects.within(world.workshop).exists()
