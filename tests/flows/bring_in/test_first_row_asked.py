"""A first row that may be headings or data: it is asked which, at every door, and nothing of data is lost or remembered."""

import io
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

from curehouse.intake.models import ColumnMemory, Import
from inventory.models import Lot, Material, Supplier
from tests.api.device import Device, problem
from tests.api.test_imports import send, sent, worked_at
from tests.flows.bring_in.test_misread import _folder
from tests.web.reading_pages import words_of
from tests.web.test_imports import as_shown, check
from tests.web.visitor import Visitor
from tests.world import World

__all__ = ["_folder"]
pytestmark = pytest.mark.django_db
OILS = "Olive oil,fat\nCoconut oil,fat\n"
FIRMS = "Oil & Co\nCaustic Ltd\n"
LABELS = "Labels,packaging,250 pieces\nBoxes,packaging,40 pieces\n"
IS_ASKED = "Say whether row 1 names the columns or is data"


def laid(visitor: Visitor, kind: str, rows: str) -> Import:
    file = io.BytesIO(rows.encode())
    file.name = "list.csv"
    answer = visitor.post("imports", kind=kind, file=file)
    assert answer.status_code == 302, words_of(answer)
    return Import.objects.within(visitor.world.workshop).latest("pk")


def answered(visitor: Visitor, brought: Import, **said: str) -> Import:
    answer = visitor.post("import", brought.pk, **{**as_shown(visitor, brought), **said})
    assert answer.status_code == 302, words_of(answer)
    brought.refresh_from_db()
    return brought


@pytest.mark.parametrize(
    ("kind", "rows"),
    [
        ("materials", OILS), ("suppliers", FIRMS), ("stock", LABELS),
        ("stock", "Labels,packaging,250 Stück\n"), ("stock", "Olive oil,Fett,~5 kg\n"), ("stock", "Shea,fat,½ kg\n"),
        ("stock", "Shea,fat,1 1/2 lb\n"), ("stock", "Material,Kind,1 1/2 lb\n"), ("materials", "Fat,Fat\n"),
        ("stock", "Material,ätherisches Öl,a few\n"),
    ],
)  # fmt: skip
def test_the_page_asks_with_the_cells_shown(world: World, kind: str, rows: str) -> None:
    visitor = Visitor(world)
    brought = laid(visitor, kind, rows + rows)
    page = words_of(visitor.get("import", brought.pk))
    assert "Row 1 may name the columns or be data" in page
    for cell in rows.split("\n", 1)[0].split(","):
        assert f"“{cell}”" in page
    answer = visitor.post("import", brought.pk, **as_shown(visitor, brought))
    assert answer.status_code == 200
    assert IS_ASKED in words_of(answer)
    assert not ColumnMemory.objects.within(world.workshop).exists()


@pytest.mark.parametrize(
    ("kind", "rows"),
    [
        ("materials", "Material,Kind,Fat\nOlive oil,fat,100\n"), ("stock", "Name,Kind,Amount,Farbe\nOil,fat,5 kg,red\n"),
        ("suppliers", "Supplier\nOil & Co\n"), ("suppliers", "name;telefon\nOil & Co;1\n"),
    ],
)  # fmt: skip
def test_headings_that_are_known_are_not_asked_about(world: World, kind: str, rows: str) -> None:
    visitor = Visitor(world)
    assert "may name the columns" not in words_of(visitor.get("import", laid(visitor, kind, rows).pk))


def test_a_row_said_to_be_data_comes_in_and_nothing_is_remembered(world: World) -> None:
    visitor = Visitor(world)
    brought = answered(visitor, laid(visitor, "suppliers", FIRMS), first_row_0="data")
    assert "Column A" in words_of(visitor.get("import", brought.pk))
    brought = check(visitor, brought, column_0_0="supplier")
    assert brought.outcome["adds"]["suppliers"] == 2, brought.outcome
    assert not ColumnMemory.objects.within(world.workshop).exists()


def test_columns_named_with_the_answer_are_kept(world: World) -> None:
    visitor = Visitor(world)
    columns = {"column_0_0": "material", "column_0_1": "material_kind"}
    brought = answered(visitor, laid(visitor, "materials", OILS), first_row_0="data", **columns)
    brought = check(visitor, brought)
    assert brought.outcome["adds"]["materials"] == 2, brought.outcome


def test_a_row_said_to_be_headings_is_remembered_and_asked_about_once(world: World) -> None:
    visitor, rows = Visitor(world), "Was da ist\nOil & Co\n"
    brought = check(visitor, laid(visitor, "suppliers", rows), first_row_0="names", column_0_0="supplier")
    assert brought.outcome["adds"]["suppliers"] == 1
    assert "may name the columns" not in words_of(visitor.get("import", brought.pk))
    assert "may name the columns" not in words_of(visitor.get("import", laid(visitor, "suppliers", rows).pk))


def test_the_api_refuses_and_names_the_option(world: World) -> None:
    device = Device(world)
    answer = send(device, FIRMS, kind="suppliers", columns='{"Oil & Co": "supplier"}')
    said = problem(answer, 400)
    assert "“Oil & Co”" in str(said)
    assert "header_row" in str(said)
    assert not Import.objects.within(world.workshop).exists()
    key = sent(device, FIRMS, kind="suppliers", header_row="0", columns='{"Column A": "supplier"}')["id"]
    assert worked_at(world, device, key)["outcome"]["adds"]["suppliers"] == 2
    key = sent(device, FIRMS, kind="suppliers", header_row="1", columns='{"Oil & Co": "supplier"}')["id"]
    assert worked_at(world, device, key)["outcome"]["adds"]["suppliers"] == 1


def test_the_command_refuses_and_names_the_option(world: World, tmp_path: Path, capsys: Any) -> None:
    (tmp_path / "t.csv").write_text(LABELS)
    words = ["bring_in", "stock", str(tmp_path / "t.csv")]
    with pytest.raises(SystemExit):
        call_command(*words, "--column", "Labels=material", "--column", "250 pieces=amount")
    said = capsys.readouterr().err
    assert "“Labels”, “packaging”, “250 pieces”" in said
    assert "--header-row 0" in said
    assert not Material.objects.within(world.workshop).exists()
    named = [f"Column {one}={key}" for one, key in (("A", "material"), ("B", "material_kind"), ("C", "amount"))]
    call_command(*words, "--header-row", "0", *(word for one in named for word in ("--column", one)))
    assert Lot.objects.within(world.workshop).count() == 2


def test_a_second_table_without_headings_is_asked_about_too(world: World) -> None:
    visitor, log = Visitor(world), io.BytesIO(b"batch,formula,bar,water,day,weight\nF1,Fern,A,31 %,7,120\n")
    log.name, cuts = "log.csv", io.BytesIO(b"F1,second of May\nF2,third of May\n")
    cuts.name = "cuts.csv"
    visitor.post("imports", kind="batches", file=log, beside=cuts)
    page = words_of(visitor.get("import", Import.objects.within(world.workshop).get().pk))
    assert "Row 1 may name the columns or be data: “F1”, “second of May”" in page
    assert not Supplier.objects.within(world.workshop).exists()
