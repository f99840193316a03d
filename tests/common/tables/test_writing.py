"""What leaves the house as a table is read back as it was, and run by nobody."""

import csv
import io
from datetime import date, datetime
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook

from curehouse.common import tables

HOSTILE = ["=1+1", "+1+cmd|' /C calc'!A0", "-2+3", "@SUM(1)", "\t=1", "\r=1", "＝1+1", '=HYPERLINK("http://x.example","a")']


def as_csv(headers: list[str], rows: list[list[object]]) -> list[list[str]]:
    text = "".join(tables.csv_lines(headers, rows))
    assert text.startswith("\ufeff")
    return list(csv.reader(io.StringIO(text.removeprefix("\ufeff"), newline="")))


def as_xlsx(headers: list[str], rows: list[list[object]]) -> list[tuple[object, ...]]:
    out = io.BytesIO()
    tables.write_xlsx(out, title="Batches: all", headers=headers, rows=rows)
    return list(load_workbook(out).active.iter_rows())


@pytest.mark.parametrize("text", HOSTILE)
def test_a_cell_that_a_spreadsheet_would_run_is_words(text: str) -> None:
    assert as_csv(["name"], [[text]])[1] == [f"'{text}"]
    assert as_csv([text], [])[0] == [f"'{text}"]
    cell = as_xlsx(["name"], [[text]])[1][0]
    assert cell.data_type == "s"
    assert cell.quotePrefix


@pytest.mark.parametrize("text", HOSTILE)
def test_what_would_be_run_is_known_on_the_way_in(text: str) -> None:
    assert tables.looks_like_formula(text) is (text != "-2+3")


@pytest.mark.parametrize("text", ["-5", "+3,5", "- stirred (slowly)", "+49 30 123456", "Sage = salvia", "a@b.example", "-"])
def test_signs_and_addresses_are_no_formulas(text: str) -> None:
    assert not tables.looks_like_formula(text)


def test_numbers_and_days_stay_what_they_are() -> None:
    row = ["Mint", Decimal("-1.50"), 3, date(2024, 3, 9), datetime(2024, 3, 9, 8, 30), None]
    headers = ["a", "b", "c", "d", "e", "f"]
    assert as_csv(headers, [row])[1] == ["Mint", "-1.50", "3", "2024-03-09", "2024-03-09 08:30:00", ""]
    cells = as_xlsx(headers, [row])[1]
    assert [cell.value for cell in cells[:5]] == ["Mint", -1.5, 3, datetime(2024, 3, 9), datetime(2024, 3, 9, 8, 30)]
    assert cells[1].data_type == "n"


@settings(max_examples=60, deadline=None)
@given(text=st.text(st.characters(codec="utf-8"), max_size=40))
def test_any_text_comes_back_but_for_its_apostrophe(text: str) -> None:
    said = as_csv(["name", "end"], [[text, "x"]])[1][0]
    assert said in {text, f"'{text}"}
    (cell, _end) = as_xlsx(["name", "end"], [[text, "x"]])[1]
    assert cell.data_type in {"s", "n", "inlineStr"}
    assert not text or text[0] not in "=+-@" or said == f"'{text}"
