"""XLSX as it comes, and what is packed to do harm."""

import errno
import io
import re
import zipfile
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path

import openpyxl.xml
import pytest
from openpyxl import Workbook, load_workbook

from curehouse.common import tables
from curehouse.common.errors import Invalid
from curehouse.common.tables.number_formats import as_shown
from tests.common.tables.files import read, with_texts_beside, written, xlsx


def repacked(path: Path, changes: dict[str, bytes], *, adds: dict[str, bytes] | None = None) -> Path:
    """Return *path* written anew with some parts changed."""
    with zipfile.ZipFile(path) as packed:
        parts = {part.filename: packed.read(part) for part in packed.infolist()}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in {**parts, **changes, **(adds or {})}.items():
            packed.writestr(name, content)
    return path


def sheet_xml(path: Path) -> str:
    with zipfile.ZipFile(path) as packed:
        return packed.read("xl/worksheets/sheet1.xml").decode()


def test_values_keep_their_kinds(tmp_path: Path) -> None:
    cells = ["Mint", 121.4, 7, date(2024, 3, 9), datetime(2024, 3, 9, 8, 30), True, None, "x"]
    path = xlsx(tmp_path, [["name", "g", "day", "on", "at", "yes", "none", "end"], cells])
    (row,) = read(path)
    assert row == ("Mint", Decimal("121.4"), Decimal(7), date(2024, 3, 9), datetime(2024, 3, 9, 8, 30), True, None, "x")


def test_a_spreadsheet_is_known_by_what_it_is_not_by_its_name(tmp_path: Path) -> None:
    path = xlsx(tmp_path, [["batch", "g"], ["Mint", 1]]).rename(tmp_path / "d1f2")
    assert read(path) == [("Mint", Decimal(1))]


def test_rows_keep_their_numbers_past_blank_ones(tmp_path: Path) -> None:
    path = xlsx(tmp_path, [["batch", "g"], [], ["Mint", 1], [], [], ["Sage", 2]])
    assert [row.number for row in tables.rows(path, tables.look(path))] == [3, 6]


def test_the_first_sheet_that_holds_something_is_read_unless_one_is_named(tmp_path: Path) -> None:
    book = Workbook()
    book.active.title = "Notes"
    hidden = book.create_sheet("Old")
    hidden.append(["old", "g"])
    hidden.sheet_state = "hidden"
    page = book.create_sheet("Cure")
    page.append(["batch", "g"])
    page.append(["Mint", 3])
    path = tmp_path / "book.xlsx"
    book.save(path)
    layout = tables.look(path)
    assert (layout.sheet, layout.sheets) == ("Cure", ("Notes", "Cure", "Old"))
    assert tables.look(path, sheet="Old").headers == ("old", "g")
    with pytest.raises(Invalid, match="no sheet called Store"):
        tables.look(path, sheet="Store")
    with pytest.raises(Invalid, match="empty"):
        tables.look(path, sheet="Notes")


def test_a_formula_without_its_result_and_an_error_are_named(tmp_path: Path) -> None:
    path = xlsx(tmp_path, [["batch", "g"], ["Mint", "=1+1"], ["Sage", "#REF!"]])
    (_, formula), (_, error) = read(path)
    assert (str(formula), str(error)) == ("=1+1", "#REF!")
    assert "result was not saved" in formula.why
    assert "error of the spreadsheet" in error.why


def test_texts_are_found_where_most_programs_keep_them(tmp_path: Path) -> None:
    path = with_texts_beside(xlsx(tmp_path, [["batch", "g"], ["Mint & oat", 1], ["Rose", 2]]))
    assert "Rose" not in sheet_xml(path)
    assert read(path) == [("Mint & oat", Decimal(1)), ("Rose", Decimal(2))]


def test_a_formula_with_its_result_is_its_result(tmp_path: Path) -> None:
    path = xlsx(tmp_path, [["batch", "g"], ["Mint", "=1+1"]])
    with_result = sheet_xml(path).replace("<f>1+1</f><v></v>", "<f>1+1</f><v>2</v>").replace("<v />", "<v>2</v>")
    repacked(path, {"xl/worksheets/sheet1.xml": with_result.encode()})
    assert load_workbook(path, data_only=True).active["B2"].value == 2
    assert read(path) == [("Mint", Decimal(2))]


def test_a_sheet_that_says_it_is_huge_is_read_as_it_is(tmp_path: Path) -> None:
    path = xlsx(tmp_path, [["batch", "g"], ["Mint", 1]])
    huge = sheet_xml(path).replace('ref="A1:B2"', 'ref="A1:XFD1048576"')
    assert "XFD1048576" in huge
    repacked(path, {"xl/worksheets/sheet1.xml": huge.encode()})
    assert read(path) == [("Mint", Decimal(1))]


def test_a_bomb_is_weighed_before_it_is_unpacked(tmp_path: Path) -> None:
    path = xlsx(tmp_path, [["batch", "g"], ["Mint", 1]])
    repacked(path, {}, adds={"xl/media/large.xml": b"0" * (40 * 2**20)})
    assert path.stat().st_size < 2**20
    with pytest.raises(Invalid, match="unpacks to far more"):
        tables.look(path)


def test_a_part_that_lies_about_its_size_is_found_damaged(tmp_path: Path) -> None:
    path = xlsx(tmp_path, [["batch", "g"], *[["Mint", 1]] * 2000])
    content = path.read_bytes()
    with zipfile.ZipFile(path) as packed:
        size = packed.getinfo("xl/worksheets/sheet1.xml").file_size
    lying = content.replace(size.to_bytes(4, "little"), (100).to_bytes(4, "little"))
    assert lying != content
    with pytest.raises(Invalid, match="cannot be read"):
        read(written(tmp_path, lying, "lying.xlsx"))


def test_markup_that_multiplies_itself_is_not_read(tmp_path: Path) -> None:
    assert openpyxl.xml.DEFUSEDXML
    path = xlsx(tmp_path, [["batch", "g"], ["Mint", 1]])
    laughs = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 10))
    bomb = (
        f'<?xml version="1.0"?><!DOCTYPE worksheet [<!ENTITY l0 "ha">{laughs}]>'
        + sheet_xml(path).replace("Mint", "&l9;").split("?>")[-1]
    )
    repacked(path, {"xl/worksheets/sheet1.xml": bomb.encode()})
    with pytest.raises(Invalid, match="cannot be read"):
        read(path)


def test_a_locked_spreadsheet_is_said_to_be_locked(tmp_path: Path) -> None:
    content = bytearray(xlsx(tmp_path, [["batch", "g"], ["Mint", 1]]).read_bytes())
    at = content.find(b"PK\x01\x02")
    content[at + 8] |= 1
    with pytest.raises(Invalid, match="password"):
        tables.look(written(tmp_path, bytes(content), "locked.xlsx"))


def test_a_file_cut_off_anywhere_is_answered_in_words(tmp_path: Path) -> None:
    content = xlsx(tmp_path, [["batch", "g"], ["Mint", 1]]).read_bytes()
    for length in range(4, len(content), 97):
        with pytest.raises(Invalid, match=r"cannot be read|unpacks"):
            read(written(tmp_path, content[:length], "cut.xlsx"))


def test_a_row_that_says_it_lies_below_every_sheet_is_not_walked_to(tmp_path: Path) -> None:
    path = xlsx(tmp_path, [["batch", "g"], ["Mint", 1]])
    far = sheet_xml(path).replace('<row r="2">', '<row r="100000000000">')
    assert far != sheet_xml(path)
    repacked(path, {"xl/worksheets/sheet1.xml": far.encode()})
    with pytest.raises(Invalid, match="cannot be read"):
        read(path)


def test_the_last_row_of_a_sheet_is_read(tmp_path: Path) -> None:
    path = xlsx(tmp_path, [["batch", "g"], ["Mint", 1]])
    repacked(path, {"xl/worksheets/sheet1.xml": sheet_xml(path).replace('<row r="2">', '<row r="1048576">').encode()})
    [row] = tables.rows(path, tables.look(path))
    assert (row.number, row.cells) == (1_048_576, ("Mint", Decimal(1)))


def test_a_letter_of_a_word_processor_is_answered_in_words(tmp_path: Path) -> None:
    path = xlsx(tmp_path, [["batch", "g"], ["Mint", 1]])
    with zipfile.ZipFile(path) as packed:
        types = packed.read("[Content_Types].xml")
    letter = types.replace(b"spreadsheetml.sheet.main", b"wordprocessingml.document.main")
    assert letter != types
    repacked(path, {"[Content_Types].xml": letter})
    with pytest.raises(Invalid, match="cannot be read"):
        tables.look(path)


def test_a_disk_that_fails_is_not_the_files_fault(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_args: object, **_told: object) -> None:
        raise OSError(errno.EIO, "Input/output error")

    path = xlsx(tmp_path, [["batch", "g"], ["Mint", 1]])
    monkeypatch.setattr("curehouse.common.tables.xlsx_files.load_workbook", broken)
    with pytest.raises(OSError, match="Input/output"):
        tables.look(path)


def test_a_part_that_is_said_to_begin_before_the_file_is_found_damaged(tmp_path: Path) -> None:
    content = bytearray(xlsx(tmp_path, [["batch", "g"], ["Mint", 1]]).read_bytes())
    # Where the list of parts is said to begin: what it lists is shifted by as much as that is wrong.
    told = content.rfind(b"PK\x05\x06") + 16
    content[told : told + 4] = (int.from_bytes(content[told : told + 4], "little") + len(content)).to_bytes(4, "little")
    with pytest.raises(Invalid, match="cannot be read"):
        read(written(tmp_path, bytes(content), "shifted.xlsx"))


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_a_part_packed_as_no_spreadsheet_is_is_not_unpacked(tmp_path: Path, method: int) -> None:
    path = xlsx(tmp_path, [["batch", "g"], ["Mint", 1]])
    with zipfile.ZipFile(path) as packed:
        parts = {part.filename: packed.read(part) for part in packed.infolist()}
    with zipfile.ZipFile(path, "w", method) as packed:
        for name, content in parts.items():
            packed.writestr(name, content)
    with pytest.raises(Invalid, match="cannot be read"):
        read(path)


def test_a_packed_folder_that_is_no_spreadsheet_is_answered_in_words(tmp_path: Path) -> None:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        packed.writestr("letter.txt", "hello")
    with pytest.raises(Invalid, match="cannot be read"):
        tables.look(written(tmp_path, out.getvalue(), "folder.xlsx"))


@pytest.mark.parametrize("row", [["x"] * 201, ["Mint", *[None] * 300, "far"]])
def test_a_table_that_is_too_wide_is_answered_in_words(tmp_path: Path, row: list[str | None]) -> None:
    with pytest.raises(Invalid, match="200 columns"):
        read(xlsx(tmp_path, [["batch", "g"], row]))


@pytest.mark.parametrize("kind", ['t="array" ref="B2:B3"', 't="dataTable" ref="B2:B3" r1="A1"'])
def test_a_formula_of_several_cells_without_its_result_is_refused_in_each(tmp_path: Path, kind: str) -> None:
    path = xlsx(tmp_path, [["batch", "g"], ["Mint", 1], ["Sage", 2], ["Oat", 3]])
    content = sheet_xml(path)
    for cell in ("B2", "B3"):
        content = re.sub(
            rf'(<c r="{cell}"[^>]*>)<v>.</v>', rf"\1{'<f ' + kind + '>A2:A3</f>' if cell == 'B2' else ''}", content
        )
    rows = read(repacked(path, {"xl/worksheets/sheet1.xml": content.encode()}))
    assert [type(row[1]) for row in rows] == [tables.Unreadable, tables.Unreadable, Decimal]
    assert "is a formula whose result was not saved" in rows[1][1].why


def test_a_formula_of_several_cells_with_its_result_is_read(tmp_path: Path) -> None:
    path = xlsx(tmp_path, [["batch", "g"], ["Mint", 1], ["Sage", 2]])
    content = sheet_xml(path)
    content = re.sub(r'(<c r="B2"[^>]*>)<v>', r'\1<f t="array" ref="B2:B3">A2:A3</f><v>', content)
    assert read(repacked(path, {"xl/worksheets/sheet1.xml": content.encode()})) == [("Mint", Decimal(1)), ("Sage", Decimal(2))]


def test_a_formula_that_came_to_no_words_is_blank(tmp_path: Path) -> None:
    path = xlsx(tmp_path, [["batch", "g"], ["Mint", 1]])
    content = re.sub(r'<c r="B2"[^>]*><v>1</v>', '<c r="B2" t="str"><f>IF(1,"","")</f><v></v>', sheet_xml(path))
    assert read(repacked(path, {"xl/worksheets/sheet1.xml": content.encode()})) == [("Mint", None)]


@pytest.mark.parametrize("change", [('s="1"', 's="999"'), ('ref="B2:B3"', 'ref="nowhere"')])
def test_a_style_or_a_range_that_is_not_there_is_answered_in_words(tmp_path: Path, change: tuple[str, str]) -> None:
    path = xlsx(tmp_path, [["batch", "g"], ["Mint", 1]])
    content = re.sub(r'<c r="B2"[^>]*>', '<c r="B2" s="1"><f t="array" ref="B2:B3">A2:A3</f>', sheet_xml(path)).replace(*change)
    with pytest.raises(Invalid, match="cannot be read"):
        read(repacked(path, {"xl/worksheets/sheet1.xml": content.encode()}))


@pytest.mark.parametrize(
    ("number", "number_format", "shown"),
    [
        ("5", '0.0" kg"', "5.0 kg"), ("5", "0.0\\ \\k\\g", "5.0 kg"), ("5", "0.00", "5"), ("5", "General", "5"),
        ("0.05", "0%", "5 %"),
        ("0.285", "0.0 %", "28.5 %"), ("5000", '0.0," kg"', "5 kg"), ("5000000", '0.0,,"M"', "5 M"), ("5000", "#,##0", "5000"),
        ("-5", '0" g";-0" kg"', "-5 kg"), ("0", '0" g";-0" kg";"none"', "0"),
        ("12", "[$$-409]#,##0.00", "$ 12"),
        ("12", '_-* #,##0.00\\ "€"_-;-* #,##0.00\\ "€"_-', "12 €"), ("12", "[$CHF] #,##0", "CHF 12"), ("3", '"Day "0', "Day 3"),
        ("5", "[Red]0.0", "5"), ("5", '[>=1000]0.0," kg";0" g"', "5 g"), ("2500", '[>=1000]0.0," kg";0" g"', "2.5 kg"),
        ("5", "0.0;", "5"), ("5", '"', "5"), ("5", "", "5"),
    ],
)  # fmt: skip
def test_a_number_is_read_with_the_words_of_its_format(number: str, number_format: str, shown: str) -> None:
    assert str(as_shown(Decimal(number), number_format)) == shown
