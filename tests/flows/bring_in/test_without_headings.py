"""A file whose first row is data: none of it is lost, and the look says so."""

import io
from pathlib import Path

import pytest

from curehouse.common import tables
from curehouse.curing.models import Reading
from curehouse.intake.models import Import
from inventory.models import Lot
from tests.flows.bring_in.logs import write_csv
from tests.flows.bring_in.test_misread import _folder, bring, sheet
from tests.web.reading_pages import words_of
from tests.web.visitor import Visitor
from tests.world import World

__all__ = ["_folder"]
SAID = "The first row looks like data, not headings"
BARE = (("F1", "Fern", "A", "2024-01-02", "0", "121.4"), ("F1", "Fern", "A", "2024-01-02", "7", "118"))


def header_row(folder: Path, *rows: tuple[str, ...]) -> int:
    return tables.look(write_csv(folder / "t.csv", rows[0], rows[1:]).path).header_row


@pytest.mark.parametrize(
    "first",
    [
        BARE[0], ("Olive oil", "fat", "5 kg"), ("Olive oil", "fat", "5,25"), ("F1", "02.01.2024"), ("F1", "31 %"), ("F1", "-3"),
        ("F1", "1/2/2024"), ("Olive oil", "€ 12.50"), ("Olive oil", "12 500"), ("F1", "2024-01-02 10:30"), ("F1", "1.5kg"),
    ],
)  # fmt: skip
def test_a_first_row_of_data_is_no_heading(tmp_path: Path, first: tuple[str, ...]) -> None:
    assert header_row(tmp_path, first, first) == 0


@pytest.mark.parametrize(
    "first",
    [
        ("batch", "day", "weight"), ("Batch no. 1", "Price per 100 g"), ("Material", "2nd supplier"), ("SAP low", "SAP high"),
        ("Batch", "Weight (g)"), ("Batch", "Water, %"), ("Batch", "Day 7"),
    ],
)  # fmt: skip
def test_headings_are_headings(tmp_path: Path, first: tuple[str, ...]) -> None:
    assert header_row(tmp_path, first, ("F1", "5", "6")[: len(first)]) == 1


def test_titles_above_headings_are_passed_over_and_data_is_not(tmp_path: Path) -> None:
    headings, row = ("batch", "bar", "day", "weight"), ("F1", "A", "7", "118")
    assert header_row(tmp_path, ("My log", "", "", ""), ("", "", "", "2024"), headings, row) == 3
    assert header_row(tmp_path, ("of 2024-01-02", "", "", ""), headings, row) == 2
    words = ("F2", "B", "lost", "lost")
    assert header_row(tmp_path, row, words, row) == 0, "a row of words beneath data names no columns"


@pytest.mark.django_db
def test_the_first_row_of_a_bare_list_comes_in(world: World, tmp_path: Path) -> None:
    columns = dict(enumerate(("batch", "formula", "bar", "cut_on", "day", "weight")))
    outcome = bring(world, "batches", write_csv(tmp_path / "t.csv", BARE[0], BARE[1:]), columns, water_share="31 %")
    assert outcome.refused_rows == 0, outcome.refusals
    assert Reading.objects.within(world.workshop).count() == 2
    assert f"{SAID}, so it is read as data." in outcome.remarks


@pytest.mark.django_db
def test_the_first_row_of_a_bare_spreadsheet_comes_in(world: World, tmp_path: Path) -> None:
    given = sheet(tmp_path, ("Olive oil", "fat", 5), ("Coconut oil", "fat", 6), {})
    outcome = bring(world, "stock", given, {0: "material", 1: "material_kind", 2: "amount"})
    assert (outcome.refused_rows, Lot.objects.within(world.workshop).count()) == (0, 2)


def laid_out(world: World, rows: str) -> tuple[Visitor, Import]:
    visitor, file = Visitor(world), io.BytesIO(rows.encode())
    file.name = "list.csv"
    answer = visitor.post("imports", kind="stock", file=file)
    assert answer.status_code == 302, words_of(answer)
    return visitor, Import.objects.within(world.workshop).get()


@pytest.mark.django_db
def test_the_look_says_so_and_asks_what_the_columns_are(world: World) -> None:
    visitor, brought = laid_out(world, "Olive oil,fat,5 kg\nCoconut oil,fat,6 kg\n")
    page = words_of(visitor.get("import", brought.pk))
    assert f"{SAID}, so it is read as data, and columns are called Column A, Column B: “Olive oil”, “fat”, “5 kg”." in page
    assert "It names the columns" in page
    assert "Olive oil" in page
