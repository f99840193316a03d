"""A file that is read wrongly is seen to be, and can be read another way, on its page as by command and API."""

import json
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

from curehouse.intake.models import ColumnMemory, Import
from curehouse.making.models import Batch
from inventory.models import Supplier
from tests.api.device import Device
from tests.api.test_imports import sent, worked_at
from tests.web.reading_pages import words_of
from tests.web.test_imports import HEAD, ROW, as_shown, check, laid
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db
POLISH = "nazwa;telefon\nŻółw i Świerk;22 123\n"
BARE = "F1,Fern,b1,31 %,2024-01-02,7,120.5\nF1,Fern,b1,31 %,2024-01-02,14,118.5\n"
COLUMNS = ("batch", "formula", "bar", "water_share", "cut_on", "day", "weight")


@pytest.fixture(autouse=True)
def _folder(settings: Any, tmp_path: Path) -> None:
    settings.DATA_FOLDER = tmp_path / "house"
    settings.DATA_FOLDER.mkdir()


@pytest.fixture
def device(world: World) -> Device:
    return Device(world)


@pytest.fixture
def visitor(world: World) -> Visitor:
    return Visitor(world)


def rows_as_read(brought: Import) -> list[list[str]]:
    brought.refresh_from_db()
    return brought.outcome["as_read"]["rows"]


def opened(visitor: Visitor, brought: Import, **changes: str) -> Import:
    answer = visitor.post("import", brought.pk, **{**as_shown(visitor, brought), **changes})
    assert answer.status_code == 302, words_of(answer)
    brought.refresh_from_db()
    return brought


def test_letters_of_another_encoding_are_seen_and_mended(world: World, visitor: Visitor) -> None:
    brought = laid(visitor, POLISH.encode("iso8859-2"), kind="suppliers")
    page = visitor.get("import", brought.pk).content.decode()
    assert "Żółw" not in page
    assert '<details class="opening" open>' in page
    opened(visitor, brought, encoding_0="iso-8859-2")
    assert "Żółw i Świerk" in visitor.words("import", brought.pk)
    brought = check(visitor, brought, column_0_0="supplier", column_0_1="telephone")
    assert "Żółw i Świerk" in visitor.words("import", brought.pk)
    assert rows_as_read(brought) == [["2", "Żółw i Świerk", "22 123"]]


def test_an_encoding_that_does_not_fit_is_said_and_nothing_is_changed(world: World, visitor: Visitor) -> None:
    brought = laid(visitor, POLISH.encode("iso8859-2"), kind="suppliers")
    answer = visitor.post("import", brought.pk, **{**as_shown(visitor, brought), "encoding_0": "utf-8"})
    assert "The text is not utf-8 after row" in words_of(answer)
    brought.refresh_from_db()
    assert brought.options["table"]["encoding"] == "windows-1252"


def test_a_file_without_a_header_keeps_its_first_row(world: World, visitor: Visitor) -> None:
    brought = laid(visitor, BARE)
    assert "Column A" in visitor.words("import", brought.pk)
    columns = {f"column_0_{index}": key for index, key in enumerate(COLUMNS)}
    brought = check(visitor, brought, header_row_0="0", **columns)
    assert brought.outcome["adds"]["weighings"] == 2, brought.outcome
    assert not ColumnMemory.objects.within(world.workshop).exists()


def test_the_separator_is_chosen(world: World, visitor: Visitor) -> None:
    brought = opened(visitor, laid(visitor, "name|phone, private\nOil|1,2\n", kind="suppliers"), delimiter_0="bar")
    assert brought.options["table"]["delimiter"] == "|"
    assert "phone, private" in visitor.words("import", brought.pk)


def test_a_mistake_in_how_it_is_opened_is_said(world: World, visitor: Visitor) -> None:
    brought = laid(visitor, HEAD + ROW)
    answer = visitor.post("import", brought.pk, **{**as_shown(visitor, brought), "header_row_0": "x"})
    assert "Say which row names the columns: a number from 0" in words_of(answer)
    answer = visitor.post("import", brought.pk, **{**as_shown(visitor, brought), "header_row_0": "9"})
    assert "Row 9 is empty" in words_of(answer)


def test_the_second_file_is_opened_otherwise_too(world: World, visitor: Visitor) -> None:
    log = "batch,formula,bar,water,day,weight\nF1,Fern,b1,31 %,7,120.5\n"
    brought = laid(visitor, log, beside=b"F1,2024-01-02\n")
    opened(visitor, brought, header_row_1="1")
    opened(visitor, brought, header_row_1="0")
    brought = check(visitor, brought, header_row_1="0", column_1_0="batch", column_1_1="cut_on")
    assert (brought.outcome["refused_rows"], brought.outcome["adds"]["weighings"]) == (0, 1), brought.outcome


def test_decimals_are_asked_of_every_list_with_figures(world: World, visitor: Visitor) -> None:
    brought = laid(visitor, "material,kind,sap low,sap high\nOil,fat,168.250,195\n", kind="materials")
    brought = check(visitor, brought)
    assert "say whether decimals stand behind a point or a comma" in visitor.words("import", brought.pk)
    assert check(visitor, brought, decimal=".").outcome["refused_rows"] == 0
    assert "unit" not in as_shown(visitor, brought)
    assert "decimal" not in as_shown(visitor, laid(visitor, "name,phone\nOil,1\n", kind="suppliers"))


def test_shares_are_read_as_they_are_said_to_be(world: World, visitor: Visitor) -> None:
    brought = check(visitor, laid(visitor, HEAD + ROW.replace("31 %", "0.9")), share_in="percent")
    assert "0.9 %" in rows_as_read(brought)[0]


@pytest.mark.parametrize(
    ("kind", "content", "row"),
    [
        ("batches", HEAD + ROW, ["2", "Fern 1", "b1", "120.5 g", "day 7", "Fern", "2 January 2024", "31 %"]),
        (
            "stock",
            "material,kind,amount (kg),supplier,received,price per 100 g\nOil,fat,2.5,Oil & Co,2026-01-02,1.20\n",
            ["2", "Oil & Co", "Oil", "fat", "2500 g", "2 January 2026", "1.2 EUR for 100 g"],
        ),
        ("stock", "material,kind,amount\nLabels,packaging,250\n", ["2", "Labels", "packaging", "250 pieces"]),
        ("materials", "material,kind,water\nMilk,liquid,87 %\n", ["2", "Milk", "liquid", "87 %"]),
        ("uses", "material,type,qty,date\nShea,fat,1 lb,2025-03-01\n", ["2", "Shea", "fat", "453.592 g", "1 March 2025"]),
    ],
)
def test_the_first_rows_are_shown_as_they_are_read(
    world: World, visitor: Visitor, kind: str, content: str, row: list[str]
) -> None:
    brought = check(visitor, laid(visitor, content, kind=kind))
    assert rows_as_read(brought) == [row]
    page = visitor.get("import", brought.pk).content.decode()
    assert '<th scope="row">2</th>' in page
    assert '<th scope="col">Row</th>' in page


def test_formulas_are_shown_as_they_are_read(world: World, visitor: Visitor) -> None:
    content = "formula,material,amount,superfat,fats\nMint,Olive oil,100 %,0.05,1 kg\nMint,Water,33 %,0.05,1 kg\n"
    brought = check(visitor, laid(visitor, content, kind="formulas"))
    assert rows_as_read(brought)[0] == ["2", "Mint", "Olive oil", "100 % of the fats", "5 %", "1000 g"]


def test_what_was_checked_before_the_first_rows_were_kept_is_shown(world: World, visitor: Visitor) -> None:
    brought = check(visitor, laid(visitor, HEAD + ROW))
    del brought.outcome["as_read"]
    brought.save(update_fields=["outcome"])
    assert "Would come in" in visitor.words("import", brought.pk)


def test_the_api_opens_a_file_as_the_page_does(world: World, device: Device) -> None:
    columns = {f"Column {letter}": key for letter, key in zip("ABCDEFG", COLUMNS, strict=True)}
    key = sent(device, BARE, header_row="0", encoding="windows-1250", columns=json.dumps(columns))["id"]
    outcome = worked_at(world, device, key)["outcome"]
    assert (outcome["adds"]["weighings"], outcome["as_read"]["headers"][:2]) == (2, ["Row", "Batch"])


def test_the_command_opens_a_file_as_the_page_does(world: World, tmp_path: Path, capsys: Any) -> None:
    (tmp_path / "polish.csv").write_bytes("Żółw\t22\n".encode("iso8859-2"))
    words = ["bring_in", "suppliers", str(tmp_path / "polish.csv"), "--header-row", "0", "--delimiter", "tab"]
    words += ["--encoding", "iso-8859-2", "--column", "Column A=supplier"]
    call_command(*words, "--dry-run", stdout=StringIO())
    assert "Row: 1, Supplier: Żółw" in capsys.readouterr().out
    call_command(*words)
    assert Supplier.objects.within(world.workshop).get().name == "Żółw"
    (tmp_path / "log.csv").write_text(HEAD + ROW.replace("31 %", "12"))
    call_command("bring_in", "batches", str(tmp_path / "log.csv"), "--share-in", "percent")
    assert f"{Batch.objects.within(world.workshop).get().water_share_stated:.2f}" == "0.12"
