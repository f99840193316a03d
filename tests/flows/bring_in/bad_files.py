"""Files that cannot be right, made by the hundred: bad cells in tables that are sound, and what is no table at all."""

import csv
import io
import zipfile
from dataclasses import dataclass
from pathlib import Path
from xml.sax.saxutils import escape

from hypothesis import strategies as st

from curehouse.common.tables import cell_name

# Of every kind a table that comes in as it stands, and the columns a bad cell may stand in by what they hold.
LOG = (
    ("batch", "formula", "bar", "water_fraction", "cut_date", "date", "weight_g"),
    ("A1", "Goat & oat", "A", "0.31", "2024-01-09", "2024-01-09", "130.0"),
    ("A1", "Goat & oat", "A", "0.31", "2024-01-09", "2024-01-23", "124.5"),
)
STOCK = (
    ("Material", "Kind", "Amount", "Supplier", "Lot", "Received", "Best before", "Price", "Status"),
    ("Olive oil", "fat", "5.5 kg", "Oil & Co", "L-7", "2026-01-10", "2027-06-01", "33.00", "released"),
    ("Lye", "NaOH", "2000 g", "Caustic Ltd", "", "2026-02-01", "", "12.00", "quarantine"),
)
SUPPLIERS = (("Supplier", "Contact"), ("Brook Mill", "mill@brook.example"), ("Oil & Co", ""))
TABLES = {"batches": LOG, "stock": STOCK, "suppliers": SUPPLIERS}
HELD_BY = {
    ("batches", "number"): (3, 6), ("batches", "day"): (4, 5), ("batches", "words"): (0, 1),
    ("stock", "number"): (2, 7), ("stock", "day"): (5, 6), ("stock", "words"): (0, 3, 4),
    ("suppliers", "words"): (0, 1),
}  # fmt: skip

_FORMULAS = st.sampled_from(
    ["=1+1", '=HYPERLINK("http://a.example")', "@SUM(1)", "+1+cmd|'/C calc'!A0", "-2+3+cmd|'/C calc'!A0", "＝1+1", "＠SUM(A1)"]
)  # fmt: skip
_UNSEEN = st.sampled_from(["\u202e", "\u200f", "\u2066", "\u200b", "\x07", "\x1b", "\ue000"])
_FEW_DIGITS = st.integers(1, 10**6).map(str)
BAD = {
    "number": st.one_of(
        st.sampled_from(
            ["NaN", "-nan", "sNaN", "Infinity", "-inf", "1e999", "1e-999", "1E5", "0x1F", "1_000", "½", "5²", "--5"]
        ),
        st.sampled_from(
            ["-1", "-0.5", "1.2.3,4", "1,2.3,4", "12 34 g g", "g", "12 stones", "%", "()", "(118.6)", "1/3", "+-4"]
        ),
        st.integers(9, 400).map(lambda length: "9" * length),
        _FEW_DIGITS.map(lambda text: text.translate({ord("0") + n: 0x0966 + n for n in range(10)})),
        _FEW_DIGITS.map(lambda text: text.translate({ord("0") + n: 0xFF10 + n for n in range(10)})),
        st.tuples(_UNSEEN, _FEW_DIGITS).map("".join),
        st.text("abcxyzäßж漢🙂!?#", min_size=1, max_size=30),
        _FORMULAS,
    ),
    "day": st.one_of(
        st.sampled_from(["31.02.2024", "2024-02-31", "2023-02-29", "2024-13-01", "2024-00-10", "0000-00-00", "9999-99-99"]),
        st.sampled_from(["03/09/2024", "09.03.2024", "9.3.24", "yesterday", "2024-W10-1", "2024-070", "NaN", "24:00", "-1"]),
        st.sampled_from(["2024-01-09T25:00", "2024-01-09 12:61", "99999-01-01", "-2024-01-09", "२०२४-०१-०९", "2924-01-09"]),
        st.integers(8, 400).map(lambda length: "9" * length),
        st.tuples(_UNSEEN, st.just("2024-01-09")).map("".join),
        st.text("abcxyzäßж漢🙂!?#", min_size=1, max_size=30),
        _FORMULAS,
    ),
    "words": st.one_of(
        _FORMULAS,
        st.tuples(st.just("Oat "), _UNSEEN, st.just("soap")).map("".join),
        st.integers(500, 11_000).map(lambda length: "x" * length),
        st.just("Oat\0soap"),
    ),
}
# What a damaged or hostile program puts where a spreadsheet keeps a figure.
_RAW_CELLS = st.sampled_from(
    [
        "<v>0</v>", "<v>NaN</v>", "<v>-INF</v>", "<v>1e999</v>", "<v></v><f>1+1</f>", "<f>SUM(A1)</f>", f"<v>{'9' * 5000}</v>",
        "<v>0x10</v>", "<v>1</v><v>2</v>", "<v>&#xD800;</v>", "<v>&lol;</v>", "<v><v>1</v></v>", "<is/>", "<v>12",
    ]
)  # fmt: skip
_RAW_KINDS = st.sampled_from(["", ' t="n"', ' t="s"', ' t="e"', ' t="d"', ' t="inlineStr"', ' t="zz"', ' s="999"', ' t="str"'])

_HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>'
_PARTS = {
    "[Content_Types].xml": (
        '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        '<Override PartName="/xl/workbook.xml" '
        'ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/>'
        '<Override PartName="/xl/worksheets/sheet1.xml" '
        'ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/>'
        '<Override PartName="/xl/sharedStrings.xml" '
        'ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"/></Types>'
    ),
    "_rels/.rels": (
        '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" '
        'Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/>'
        "</Relationships>"
    ),
    "xl/workbook.xml": (
        '<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" '
        'xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships">'
        '<sheets><sheet name="Sheet" sheetId="1" r:id="rId1"/></sheets></workbook>'
    ),
    "xl/_rels/workbook.xml.rels": (
        '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" '
        'Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/>'
        "</Relationships>"
    ),
}
_PARTS["xl/sharedStrings.xml"] = (
    '<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><si><t>Mint</t></si></sst>'
)
_SHEET = "xl/worksheets/sheet1.xml"


@dataclass(frozen=True)
class BadFile:
    """A file and the kind it is given as; ``is_surely_bad`` where chance cannot have left it sound."""

    kind: str
    name: str
    content: bytes
    is_surely_bad: bool
    size_bytes: int = 0

    def __repr__(self) -> str:
        return f"BadFile({self.kind}, {self.name}, {self.content[:400]!r}…)"

    def put(self, path: Path) -> Path:
        """Write it; beyond its content it is a hole of the disk's as long as it claims to be."""
        with path.open("wb") as file:
            file.write(self.content)
            file.truncate(max(len(self.content), self.size_bytes))
        return path


Grid = tuple[tuple[str, ...], ...]


def with_cell(grid: Grid, row: int, column: int, text: str) -> Grid:
    """Return a table with another text in one of its cells."""
    return tuple(
        tuple(text if (r, c) == (row, column) else cell for c, cell in enumerate(cells)) for r, cells in enumerate(grid)
    )


def as_csv(grid: Grid, *, delimiter: str = ",", encoding: str = "utf-8") -> bytes:
    """Return a table as CSV."""
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=delimiter).writerows(grid)
    return out.getvalue().encode(encoding)


def as_xlsx(grid: Grid, *, raw: dict[str, str] | None = None, parts: dict[str, str] | None = None) -> bytes:
    """Return a table as XLSX, made by hand so that *raw* cells and whole *parts* can be what no program writes."""
    instead = raw or {}
    rows = []
    for number, cells in enumerate(grid, start=1):
        made = []
        for column, text in enumerate(cells):
            name = cell_name(number, column)
            plain = f'<c r="{name}" t="inlineStr"><is><t xml:space="preserve">{escape(text)}</t></is></c>'
            made.append(instead.get(name, plain))
        rows.append(f'<row r="{number}">{"".join(made)}</row>')
    begun = '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
    sheet = f"{begun}{''.join(rows)}</sheetData></worksheet>"
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, text in {**_PARTS, _SHEET: sheet, **(parts or {})}.items():
            packed.writestr(name, _HEAD + text)
    return out.getvalue()


def _is_xml(text: str) -> bool:
    return all(one in "\t\n\r" or one >= " " for one in text)


@st.composite
def bad_cells(draw: st.DrawFn) -> BadFile:
    """Return a sound table with one cell that cannot be right."""
    kind, holds = draw(st.sampled_from(sorted(HELD_BY)))
    text = draw(BAD[holds])
    row = draw(st.integers(1, 2)) if kind != "batches" else 1
    grid = with_cell(TABLES[kind], row, draw(st.sampled_from(HELD_BY[kind, holds])), text)
    if _is_xml(text) and draw(st.booleans()):
        return BadFile(kind, "bad.xlsx", as_xlsx(grid), is_surely_bad=True)
    # A NUL makes an eight-bit file none of text; in UTF-16 it is a character of a cell.
    encoding = draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]))
    content = as_csv(grid, delimiter=draw(st.sampled_from(",;\t|")), encoding=encoding)
    return BadFile(kind, "bad.csv", content, is_surely_bad=True)


@st.composite
def bad_sheets(draw: st.DrawFn) -> BadFile:
    """Return a spreadsheet with a cell or a part that no sound program writes."""
    kind = draw(st.sampled_from(sorted(TABLES)))
    grid = TABLES[kind]
    name = cell_name(2, draw(st.integers(0, len(grid[0]) - 1)))
    if draw(st.booleans()):
        cell = (
            f'<c r="{draw(st.sampled_from([name, "ZZZ1", "A0", "XFD1048576", ""]))}"{draw(_RAW_KINDS)}>{draw(_RAW_CELLS)}</c>'
        )
        return BadFile(kind, "bad.xlsx", as_xlsx(grid, raw={name: cell}), is_surely_bad=False)
    lol = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 9}">' for n in range(1, 12))
    part = draw(st.sampled_from([*sorted(_PARTS), _SHEET, "xl/styles.xml"]))
    text = draw(
        st.one_of(
            st.sampled_from(
                [
                    "", "<", "<a/>", f'<!DOCTYPE a [<!ENTITY l0 "lol">{lol}]><a>&l11;</a>', "x" * 3_000_000,
                    '<!DOCTYPE a [<!ENTITY x SYSTEM "file:///etc/hostname">]><a>&x;</a>',
                ]
            ),
            st.text(max_size=60).filter(lambda one: not any("\ud800" <= c <= "\udfff" for c in one)),
        )
    )  # fmt: skip
    return BadFile(kind, "bad.xlsx", as_xlsx(grid, parts={part: text}), is_surely_bad=False)


@st.composite
def bad_bytes(draw: st.DrawFn) -> BadFile:
    """Return bytes that are no table, or what is left of one."""
    kind = draw(st.sampled_from(sorted(TABLES)))
    whole = draw(st.sampled_from([as_csv(TABLES[kind]), as_csv(TABLES[kind], encoding="utf-16"), as_xlsx(TABLES[kind])]))
    how = draw(st.sampled_from(["any", "cut", "flipped", "begun", "long"]))
    if how == "long":
        size_bytes = draw(st.integers(31, 100)) * 2**20
        return BadFile(kind, "long.csv", whole, is_surely_bad=True, size_bytes=size_bytes)
    if how == "any":
        content = draw(st.binary(max_size=400))
    elif how == "cut":
        content = whole[: draw(st.integers(0, len(whole) - 1))]
    elif how == "begun":
        begins = [
            b"PK\x03\x04",
            b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1",
            b"%PDF-1.7\n",
            b"\xff\xfe",
            b"\xfe\xff",
            b"\xff\xfe\x00\xd8",
            b"\0",
        ]
        content = draw(st.sampled_from(begins)) + draw(st.binary(max_size=300))
    else:
        damaged = bytearray(whole)
        for _ in range(draw(st.integers(1, 8))):
            damaged[draw(st.integers(0, len(whole) - 1))] = draw(st.integers(0, 255))
        content = bytes(damaged)
    return BadFile(kind, "bad.bin", content, is_surely_bad=False)


bad_files = st.one_of(bad_cells(), bad_cells(), bad_sheets(), bad_bytes())
