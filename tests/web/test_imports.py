"""The pages by which a spreadsheet comes in, from the chosen file to the batches on the Bench."""

import csv
import io
import os
import uuid
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from openpyxl import Workbook, load_workbook

from curehouse.common import uploads
from curehouse.flows.bring_in.door import carry_on
from curehouse.flows.bring_in.progress import keeper
from curehouse.intake.models import ColumnMemory, Import
from curehouse.intake.services import claim_import
from curehouse.making.models import Batch
from tests.flows.bring_in.logs import by_day, german, log, plain
from tests.web.reading_pages import words_of
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db
HEAD = "batch,formula,bar,water,cut,day,weight\n"
ROW = "Fern 1,Fern,b1,31 %,2024-01-02,7,120.5\n"


@pytest.fixture(autouse=True)
def _folder(settings: Any, tmp_path: Path) -> None:
    settings.DATA_FOLDER = tmp_path / "house"
    settings.DATA_FOLDER.mkdir()


@pytest.fixture
def visitor(world: World) -> Visitor:
    return Visitor(world)


def lay_out(
    visitor: Visitor,
    content: bytes | str,
    *,
    beside: bytes | None = None,
    name: str = "log.csv",
    key: str = "",
    kind: str = "batches",
) -> HttpResponse:
    sent = content.encode() if isinstance(content, str) else content
    files = {"file": SimpleUploadedFile(name, sent)}
    if beside is not None:
        files["beside"] = SimpleUploadedFile("cuts.csv", beside)
    return visitor.post("imports", form_key=key, kind=kind, **files)


def laid(visitor: Visitor, content: bytes | str, **more: Any) -> Import:
    answer = lay_out(visitor, content, **more)
    assert answer.status_code == 302, words_of(answer)
    return Import.objects.within(visitor.world.workshop).newest_first().first()


def as_shown(visitor: Visitor, brought: Import) -> dict[str, str]:
    """Return what the page's form holds, as a browser would send it."""
    form = visitor.get("import", brought.pk).context["form"]
    values = {field.html_name: field.value() for field in form}
    return {name: value for name, value in values.items() if value is not None and value is not False}


def worked(world: World, brought: Import) -> Import:
    """Let the worker come by."""
    done = carry_on(workshop_id=world.workshop.pk, import_id=brought.pk, at=world.now)
    assert done is not None
    return done


def check(visitor: Visitor, brought: Import, **changes: str) -> Import:
    visitor.post("import", brought.pk, **{**as_shown(visitor, brought), **changes})
    return worked(visitor.world, brought)


def test_a_log_comes_in_by_the_pages(world: World, visitor: Visitor, tmp_path: Path) -> None:
    rows = log()
    weighings, cuts = by_day(tmp_path, rows)
    brought = laid(visitor, weighings.path.read_bytes(), beside=cuts.path.read_bytes())
    assert "columns to be named" in visitor.words("import", brought.pk)
    visitor.post("import", brought.pk, **as_shown(visitor, brought))
    assert "Being checked" in visitor.words("import", brought.pk)
    worked(world, brought)
    words = visitor.words("import", brought.pk)
    assert f"Would come in: 12 batches, {len({(r.batch, r.bar) for r in rows})} sample bars, {len(rows)} weighings" in words
    assert not Batch.objects.within(world.workshop).exists()
    visitor.post("import_bring", brought.pk)
    assert "Coming in" in visitor.words("import", brought.pk)
    worked(world, brought)
    assert "Brought in: 12 batches" in visitor.words("import", brought.pk)
    batch = Batch.objects.within(world.workshop).get(known_as=rows[0].batch)
    words = visitor.words("batch", batch.pk)
    assert "no verdict was asked for" in words
    assert "The day of the pour is not known" in words
    assert str(batch) in visitor.words("bench", query=f"?q={batch.known_as}")
    for page in ("today", "racks", "bench"):
        assert visitor.get(page).status_code == 200


def test_what_cannot_be_guessed_is_said_and_remembered(world: World, visitor: Visitor, tmp_path: Path) -> None:
    content = german(tmp_path, log(batches=2)).path.read_bytes()
    brought = laid(visitor, content)
    answer = visitor.post("import", brought.pk, **as_shown(visitor, brought))
    assert "can be read day first or month first: choose how dates are written in this file" in words_of(answer)
    brought = check(visitor, brought, date_order="mdy")
    assert brought.outcome["refused_rows"] > 0
    words = visitor.words("import", brought.pk)
    assert "is no day of the calendar: check day, month and year, and which comes first" in words
    assert "Bring it in" not in words
    brought = check(visitor, brought, date_order="dmy")
    assert brought.outcome["refused_rows"] == 0
    assert ColumnMemory.objects.within(world.workshop).get(header="charge").key == "batch"


def test_a_column_said_to_be_something_is_remembered(world: World, visitor: Visitor) -> None:
    brought = laid(visitor, "Zettel,formula,bar,water,cut,day,weight\nFern 1,Fern,b1,31 %,2024-01-02,7,120.5\n")
    assert "column_0_0" not in {name for name, value in as_shown(visitor, brought).items() if value}
    check(visitor, brought, column_0_0="batch")
    again = laid(visitor, "Zettel,formula,bar,water,cut,day,weight\nFern 2,Fern,b1,31 %,2024-01-02,7,120.5\n")
    assert as_shown(visitor, again)["column_0_0"] == "batch"


def test_refused_rows_are_listed_and_can_be_taken_along(world: World, visitor: Visitor) -> None:
    brought = check(visitor, laid(visitor, HEAD + ROW + "=1+1,Fern,b1,31 %,2024-01-02,7,120.5\n"))
    words = visitor.words("import", brought.pk)
    assert "1 row of 2 rows cannot be taken, so nothing comes in" in words
    assert "A3, batch“=1+1” begins like a formula" in words.replace(" “", "“")
    answer = visitor.get("list_import_refused_csv", brought.pk)
    assert "attachment" in answer["Content-Disposition"]
    text = b"".join(answer.streaming_content).decode("utf-8-sig")
    _head, row = csv.reader(io.StringIO(text, newline=""))
    assert row[1:5] == ["3", "A3", "batch", "'=1+1"]
    book = load_workbook(io.BytesIO(b"".join(visitor.get("list_import_refused_xlsx", brought.pk).streaming_content)))
    assert [cell.value for cell in book.active[2]][1:5] == [3, "A3", "batch", "=1+1"]
    answer = visitor.post("import_bring", brought.pk)
    assert answer.status_code == 409
    assert "mend the rows that are refused" in words_of(answer)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "The file is empty"),
        (b"\n\n", "The table is empty"),
        (b"%PDF-1.7", "The file is a PDF"),
        (b"PK\x03\x04", "cannot be read"),
        (b"a\0b", "not a table"),
    ],
)
def test_what_is_no_table_is_answered_on_the_form_and_not_kept(
    world: World, visitor: Visitor, settings: Any, content: bytes, said: str
) -> None:
    answer = lay_out(visitor, content)
    assert answer.status_code == 200
    assert said in words_of(answer)
    assert not Import.objects.within(world.workshop).exists()
    assert not [path for path in settings.DATA_FOLDER.rglob("*") if path.is_file()]


def test_a_hundred_megabytes_are_answered_by_their_size_and_not_kept(world: World, visitor: Visitor, settings: Any) -> None:
    answer = lay_out(visitor, b"a,b\n" + b"1,2\n" * (25 * 2**20))
    assert answer.status_code == 400
    assert "The file has 100 MB, and up to 30 MB are taken" in words_of(answer)
    assert not [path for path in settings.DATA_FOLDER.rglob("*") if path.is_file()]


def test_a_file_sent_twice_is_laid_out_once(world: World, visitor: Visitor) -> None:
    key = str(uuid.uuid4())
    first, second = (lay_out(visitor, HEAD + ROW, key=key) for _ in range(2))
    assert first.url == second.url
    assert Import.objects.within(world.workshop).count() == 1


def test_another_sheet_can_be_looked_at(world: World, visitor: Visitor, tmp_path: Path) -> None:
    book = Workbook()
    book.active.title = "Notes"
    book.active.append(["remember", "this"])
    sheet = book.create_sheet("Cure")
    sheet.append(["batch", "formula", "bar", "water", "cut", "day", "weight"])
    sheet.append(["Fern 1", "Fern", "b1", 0.31, "2024-01-02", 7, 120.5])
    book.save(tmp_path / "book.xlsx")
    brought = laid(visitor, (tmp_path / "book.xlsx").read_bytes(), name="book.xlsx")
    visitor.post("import", brought.pk, **{**as_shown(visitor, brought), "sheet": "Cure"})
    shown = as_shown(visitor, brought)
    assert (shown["sheet"], shown["column_0_0"]) == ("Cure", "batch")
    assert check(visitor, brought).outcome["adds"]["batches"] == 1


def test_a_file_that_is_gone_says_so(world: World, visitor: Visitor, settings: Any) -> None:
    brought = laid(visitor, HEAD + ROW)
    visitor.post("import", brought.pk, **as_shown(visitor, brought))
    for path in (settings.DATA_FOLDER / "uploads").rglob("*"):
        if path.is_file():
            path.unlink()
    worked(world, brought)
    words = visitor.words("import", brought.pk)
    assert "not in the data folder any more: choose it again" in words


@pytest.mark.parametrize("which", ["the first", "the second"])
def test_a_file_that_was_changed_says_so_and_never_comes_in(world: World, visitor: Visitor, which: str) -> None:
    """Whoever looked at what was checked would get something else."""
    brought = laid(visitor, HEAD + ROW, beside=b"batch,cut\nFern 1,2024-01-02\n")
    name = brought.kept_as if which == "the first" else brought.beside_kept_as
    lies_at, said = uploads.path_of(name), "not the file that was put there"
    content = lies_at.read_bytes()
    lies_at.write_bytes(content.replace(b"Fern", b"Oats"))
    assert said in visitor.words("import", brought.pk)
    lies_at.write_bytes(content)
    checked = check(visitor, brought)
    assert checked.state == Import.State.CHECKED
    visitor.post("import_bring", brought.pk)
    lies_at.write_bytes(content.replace(b"Fern", b"Oats"))
    done = worked(world, brought)
    assert (done.state, said in done.said) == (Import.State.FAILED, True)
    assert said in visitor.words("import", brought.pk)
    assert not Batch.objects.within(world.workshop).exists()


def test_the_same_file_of_two_workshops_is_kept_twice(world: World, stranger: World, settings: Any) -> None:
    files = [laid(Visitor(one), HEAD + ROW) for one in (world, world, stranger)]
    assert len({one.sha256 for one in files}) == 1
    assert len({one.kept_as for one in files} - {files[0].sha256}) == 3
    assert len([path for path in (settings.DATA_FOLDER / "uploads").rglob("*") if path.is_file()]) == 3


def test_two_columns_cannot_be_one_thing(world: World, visitor: Visitor) -> None:
    brought = laid(visitor, HEAD + ROW)
    answer = visitor.post("import", brought.pk, **{**as_shown(visitor, brought), "column_0_1": "batch"})
    assert "“formula” and “batch” are both said to be “Batch”: leave one of them out" in words_of(answer)


def test_the_list_of_files_takes_as_many_queries_however_many_there_are(world: World, visitor: Visitor, tmp_path: Path) -> None:
    laid(visitor, HEAD + ROW)
    few = visitor.queries("imports")
    for _ in range(4):
        laid(visitor, plain(tmp_path, log(batches=1)).path.read_bytes())
    assert visitor.queries("imports") == few


def test_the_progress_asks_again_until_it_is_done(world: World, visitor: Visitor) -> None:
    brought = laid(visitor, HEAD + ROW)
    visitor.post("import", brought.pk, **as_shown(visitor, brought))
    address = reverse("web:import_progress", args=[brought.pk])
    assert "hx-get" in visitor.client.get(address, headers={"HX-Request": "true"}).content.decode()
    worked(world, brought)
    assert visitor.client.get(address, headers={"HX-Request": "true"})["HX-Refresh"] == "true"
    assert visitor.client.get(address).url == reverse("web:import", args=[brought.pk])


def test_a_file_that_nobody_works_on_any_more_says_since_when(world: World, visitor: Visitor) -> None:
    brought = laid(visitor, HEAD + ROW)
    visitor.post("import", brought.pk, **as_shown(visitor, brought))
    now = timezone.now()
    claim_import(workshop_id=world.workshop.pk, import_id=brought.pk, at=now)
    keeper(brought)("writing", 6000, 12000)
    assert "the house goes on" in visitor.words("import", brought.pk)
    (lies_at,) = (Path(settings.DATA_FOLDER) / "progress").iterdir()
    then = (now - timedelta(minutes=2)).timestamp()
    os.utime(lies_at, (then, then))
    words = visitor.words("import", brought.pk)
    assert "Nothing has moved since " in words
    assert "it is taken up anew at " in words
    assert "the house goes on" not in words


@pytest.mark.parametrize(
    ("kind", "content", "added", "shown_on"),
    [
        ("stock", "material,kind,amount,supplier,lot\nOlive oil,fat,5.5 kg,Oil & Co,L-7\n", "1 lot", "Olive oil"),
        ("suppliers", "name,phone\nOil & Co,+49 (0) 89 123\n", "1 supplier", ""),
        ("uses", "material,type,qty,date\nShea butter,fat,250 g,2025-03-01\n", "1 use", "Shea butter"),
    ],
)
def test_lists_of_the_storeroom_come_in_by_the_pages(
    world: World, visitor: Visitor, kind: str, content: str, added: str, shown_on: str
) -> None:
    brought = laid(visitor, content, kind=kind)
    assert "cannot be read" not in visitor.words("import", brought.pk)
    check(visitor, brought)
    words = visitor.words("import", brought.pk)
    assert "Would come in" in words
    assert added in words
    visitor.post("import_bring", brought.pk)
    worked(world, brought)
    words = visitor.words("import", brought.pk)
    assert "Brought in" in words
    assert "See the Storeroom" in words
    assert shown_on in visitor.words("storeroom")


def test_a_fault_of_the_house_is_said_once_and_not_tried_for_ever(
    world: World, visitor: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    brought = laid(visitor, HEAD + ROW)
    visitor.post("import", brought.pk, **as_shown(visitor, brought))

    def broken(*_args: object, **_options: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("curehouse.flows.bring_in.door._carried_on", broken)
    worked(world, brought)
    assert "a fault of the house, noted in its log" in visitor.words("import", brought.pk)
    assert carry_on(workshop_id=world.workshop.pk, import_id=brought.pk, at=world.now) is None


def test_a_second_window_is_told_what_is_true_by_now(world: World, visitor: Visitor) -> None:
    brought = laid(visitor, HEAD + ROW)
    assert "has not been checked: check it first" in words_of(visitor.post("import_bring", brought.pk))
    visitor.post("import", brought.pk, **as_shown(visitor, brought))
    assert "is being checked: wait until that has ended" in words_of(visitor.post("import_bring", brought.pk))
    worked(world, brought)
    visitor.post("import_bring", brought.pk)
    assert "is coming in already: wait until that has ended" in words_of(visitor.post("import_bring", brought.pk))
    worked(world, brought)
    assert "is brought in already: there is nothing more to do" in words_of(visitor.post("import_bring", brought.pk))
