"""Numbers of a spreadsheet whose format shows more than figures: fractions by what is kept, codes as they are shown."""

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from curehouse.common.tables.number_formats import as_shown
from curehouse.flows.bring_in.cells import CellFault, Cells
from curehouse.flows.bring_in.options import Options
from curehouse.making.models import Batch
from inventory.models import Lot
from tests.flows.bring_in.test_misread import _folder, bring, on_hand, sheet, why
from tests.world import World

__all__ = ["_folder"]
pytestmark = pytest.mark.django_db
LOTS = ("Material", "Kind", "Amount (kg)", "Lot no")


def lot(world: World, folder: Path, value: Any, number_format: str) -> Any:
    return bring(world, "stock", sheet(folder, LOTS, ("Oil", "fat", 5, value), {3: number_format}))


@pytest.mark.parametrize(
    ("number_format", "value", "grams"),
    [
        ("# ?/8", 0.125, "0.125"), ("# ?/?", 2.5, "2.5"), ("# ??/??", 2.25, "2.25"), ("# ???/???", 0.333, "0.333"),
        ("?/2", 1.5, "1.5"), ("0 0/16", 3.0625, "3.062"), ('# ?/8" kg"', 1.125, "1125"), ('#\\ ?/4\\ "lb"', 0.75, "340.194"),
    ],
)  # fmt: skip
def test_a_fraction_is_read_by_what_is_kept(world: World, tmp_path: Path, number_format: str, value: float, grams: str) -> None:
    outcome = bring(world, "stock", sheet(tmp_path, ("Material", "Kind", "Amount"), ("Oil", "fat", value), {2: number_format}))
    assert outcome.refused_rows == 0, outcome.refusals
    assert on_hand(world) == Decimal(grams)


@pytest.mark.parametrize(
    ("value", "number_format", "shown"),
    [
        (123, "000000", "000123"), (12345, "0000-00", "0123-45"), (1234567, "0000-00", "12345-67"), (7, '"L-"0000', "L-0007"),
        (7, "\\L\\-0000", "L-0007"), (20240107, '0000"/"00"/"00', "2024/01/07"), (12, '00" B"', "12 B"), (5, "General", "5"),
        (5, "0", "5"), (2.5, '0.00" x"', "2.50 x"), (7, "[$-407]0000", "0007"), (0, "000", "000"),
        (1234567, "000000", "1234567"), (5, '"Lot "General', "Lot 5"), (12, "000;-000;0", "012"),
    ],
)  # fmt: skip
def test_a_lot_number_is_read_as_it_is_shown(
    world: World, tmp_path: Path, value: float, number_format: str, shown: str
) -> None:
    outcome = lot(world, tmp_path, value, number_format)
    assert outcome.refused_rows == 0, outcome.refusals
    assert Lot.objects.within(world.workshop).get().supplier_lot == shown


@pytest.mark.parametrize(
    ("value", "number_format"),
    [(12.5, "0000"), (-7, "0000"), (12345, "0000,"), (1234567, '#,##0" x"'), (12345.5, "0000-00"), (0.5, '"L "# ?/8')],
)
def test_what_cannot_be_shown_surely_is_asked_about(world: World, tmp_path: Path, value: float, number_format: str) -> None:
    outcome = lot(world, tmp_path, value, number_format)
    assert "is shown by a number format that is not known here: make the column text, and type it as it is shown" in why(
        outcome
    )
    assert not Lot.objects.within(world.workshop).exists()


def test_figures_stay_figures_whatever_pads_them() -> None:
    cells = Cells(Options())
    for number_format, number in (("0000", 7), ("0000-00", 12345), ("000", 0)):
        assert cells.number(as_shown(Decimal(number), number_format)) == number
    assert cells.text(as_shown(Decimal("0.05"), "0%")) == "5%"
    with pytest.raises(CellFault, match="is no date"):
        cells.moment(as_shown(Decimal(7), "0000"))


def test_a_list_that_came_in_without_its_zeros_does_not_come_in_again(world: World, tmp_path: Path) -> None:
    assert lot(world, tmp_path, 123, "0").adds["lots"] == 1
    again = lot(world, tmp_path, 123, "000000")
    assert (again.adds["lots"], again.known["lots"], again.refused_rows) == (0, 1, 0)
    assert any("came in before without the zeros" in one for one in again.remarks)
    assert Lot.objects.within(world.workshop).get().supplier_lot == "123"


def test_a_batch_that_came_in_without_its_zeros_is_not_made_anew(world: World, tmp_path: Path) -> None:
    headers = ("batch", "formula", "bar", "cut", "day", "weight", "water")
    row = (12, "Fern", "A", "2024-01-02", 7, 120.5, "31 %")
    assert bring(world, "batches", sheet(tmp_path, headers, row, {})).adds["batches"] == 1
    again = bring(world, "batches", sheet(tmp_path, headers, row, {0: "0000"}))
    assert "is here as “12”, brought in without the zeros its number format shows" in why(again)
    assert Batch.objects.within(world.workshop).count() == 1
    anew = bring(world, "batches", sheet(tmp_path, headers, (13, *row[1:]), {0: "0000"}))
    assert anew.refused_rows == 0, anew.refusals
    assert Batch.objects.within(world.workshop).get(known_as="0013")
