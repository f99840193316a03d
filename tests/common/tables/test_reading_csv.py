"""CSV as it comes: any dialect, any encoding, and files that are none."""

import csv
import io
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from curehouse.common import tables
from curehouse.common.errors import Invalid
from curehouse.common.tables import limits
from tests.common.tables.files import read, written

ROWS = [["batch", "day", "weight"], ["Mint", "0", "121.4"], ["Sage & Salt", "7", "117.9"]]


def as_csv(rows: list[list[str]], **dialect: str) -> str:
    out = io.StringIO()
    csv.writer(out, **dialect).writerows(rows)
    return out.getvalue()


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_the_delimiter_is_found(tmp_path: Path, delimiter: str) -> None:
    path = written(tmp_path, as_csv([*ROWS, ["Rye", "14", "115,3"]], delimiter=delimiter))
    layout = tables.look(path)
    assert (layout.delimiter, layout.headers) == (delimiter, ("batch", "day", "weight"))
    assert [row.cells for row in tables.rows(path, layout)][-1] == ("Rye", "14", "115,3")


def test_decimal_commas_do_not_hide_the_semicolon(tmp_path: Path) -> None:
    path = written(tmp_path, "Charge;Tag;Gewicht\nMinze;0;121,4\nMinze;7;117,9\nMinze;14;115,3\n")
    assert tables.look(path).headers == ("Charge", "Tag", "Gewicht")


def test_a_first_line_may_name_the_delimiter(tmp_path: Path) -> None:
    path = written(tmp_path, "sep=;\nbatch;weight\nMint;1,5\n")
    assert read(path) == [("Mint", "1,5")]


@pytest.mark.parametrize(
    ("content", "encoding"),
    [
        ("batch,note\nMint,süß\n".encode(), "utf-8"),
        ("batch,note\nMint,süß\n".encode("utf-8-sig"), "utf-8"),
        ("batch,note\nMint,süß\n".encode("utf-16"), "utf-16"),
        ("batch,note\nMint,süß\n".encode("cp1252"), "windows-1252"),
    ],
)
def test_the_encoding_is_found(tmp_path: Path, content: bytes, encoding: str) -> None:
    path = written(tmp_path, content)
    assert (tables.look(path).encoding, read(path)) == (encoding, [("Mint", "süß")])


def test_blank_rows_are_left_out_and_rows_keep_their_numbers(tmp_path: Path) -> None:
    path = written(tmp_path, 'batch,note\n\n , \nMint,"two\nlines"\n,,\nSage,dry\n')
    assert [(row.number, row.cells) for row in tables.rows(path, tables.look(path))] == [
        (4, ("Mint", "two\nlines")),
        (6, ("Sage", "dry")),
    ]


def test_a_table_whose_columns_no_row_names_keeps_its_first_row(tmp_path: Path) -> None:
    path = written(tmp_path, "Mint,0,121.4\nMint,7,120.5,soft\n")
    layout = tables.look(path, header_row=0)
    assert (layout.header_row, layout.headers) == (0, ("Column A", "Column B", "Column C", "Column D"))
    assert [row.number for row in tables.rows(path, layout)] == [1, 2]


@pytest.mark.parametrize("encoding", tables.ENCODINGS)
def test_every_encoding_can_be_said(tmp_path: Path, encoding: str) -> None:
    path = written(tmp_path, "batch,g\nMint,1\n".encode(tables.ENCODINGS[encoding]))
    assert read(path, encoding=encoding) == [("Mint", "1")]


def test_a_title_above_the_header_is_passed_over(tmp_path: Path) -> None:
    path = written(tmp_path, "Cure log 2024,,\n,,\nbatch,day,weight\nMint,0,121.4\n")
    layout = tables.look(path)
    assert (layout.header_row, layout.headers) == (3, ("batch", "day", "weight"))
    assert tables.look(path, header_row=4).headers == ("Mint", "0", "121.4")
    with pytest.raises(Invalid, match="Row 2 is empty"):
        tables.look(path, header_row=2)
    for wild in (-1, -100, 10**12):
        with pytest.raises(Invalid, match="in row 1 or further down"):
            tables.look(path, header_row=wild)


def test_columns_without_or_with_the_same_name_can_be_told_apart(tmp_path: Path) -> None:
    path = written(tmp_path, "batch,,weight,weight\nMint,x,1,2,more\n")
    assert tables.look(path).headers == ("batch", "Column B", "weight", "weight (2)", "Column E")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b"\n\n , \n", "empty"),
        (b"%PDF-1.7 and more", "PDF"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "old or locked"),
        (b"batch\0weight\n", "not a table"),
        (b"PK\x03\x04 and nothing else", "cannot be read"),
        (b'batch,weight\n"' + b"x" * 200_000, "quotation mark"),
        (b"batch," * 201 + b"x\n", "200 columns"),
    ],
)
def test_what_is_no_table_is_answered_in_words(tmp_path: Path, content: bytes, said: str) -> None:
    with pytest.raises(Invalid, match=said):
        read(written(tmp_path, content))


def test_a_hundred_megabytes_are_answered_by_their_size(tmp_path: Path) -> None:
    path = tmp_path / "large.csv"
    with path.open("wb") as file:
        file.truncate(100 * 2**20)
    with pytest.raises(Invalid, match="The file has 100 MB, and up to 30 MB are taken"):
        tables.look(path)


def test_a_table_that_is_too_long_is_answered_in_words(tmp_path: Path) -> None:
    path = written(tmp_path, "batch,day\n" + "m,1\n" * (limits.MOST_ROWS + 1))
    with pytest.raises(Invalid, match="more than 100,000 rows"):
        read(path)


def test_a_cell_that_is_too_long_is_named(tmp_path: Path) -> None:
    (cells,) = read(written(tmp_path, f"batch,note\nMint,{'x' * 10_001}\n"))
    assert isinstance(cells[1], tables.Unreadable)
    assert "10,001 characters" in cells[1].why


@pytest.mark.parametrize(
    ("told", "said"),
    [({"delimiter": "x"}, "separated by"), ({"encoding": "ebcdic"}, "in one of")],
)
def test_what_is_told_of_a_file_is_held_against_what_there_is(tmp_path: Path, told: dict[str, str], said: str) -> None:
    with pytest.raises(Invalid, match=said):
        tables.look(written(tmp_path, "a,b\n1,2\n"), **told)


CELLS = st.text(st.characters(codec="utf-8", exclude_characters="\0\r\n\ufeff", exclude_categories=["Cc"]), max_size=20)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(rows=st.lists(st.lists(CELLS, min_size=3, max_size=3), min_size=1, max_size=8), delimiter=st.sampled_from(",;\t|"))
def test_what_the_standard_writer_wrote_is_read(tmp_path: Path, rows: list[list[str]], delimiter: str) -> None:
    path = written(tmp_path, as_csv([["one", "two", "three"], *rows], delimiter=delimiter))
    wanted = [tuple(cell.strip() or None for cell in row) for row in rows]
    assert read(path, delimiter=delimiter, header_row=1) == [row for row in wanted if any(row)]


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(content=st.one_of(st.binary(max_size=300), st.binary(max_size=200).map(lambda end: b"PK\x03\x04" + end)))
def test_any_bytes_are_a_table_or_answered_in_words(tmp_path: Path, content: bytes) -> None:
    try:
        read(written(tmp_path, content))
    except Invalid as error:
        assert error.message.endswith(".")
