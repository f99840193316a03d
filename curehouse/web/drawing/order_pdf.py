"""The sheet of an order as PDF: plain lines on A4, in a font that has the letters of most of Europe's languages."""

from io import BytesIO
from pathlib import Path
from typing import Any, Protocol

from reportlab.lib.pagesizes import A4
from reportlab.lib.utils import simpleSplit
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

_FONTS = Path(__file__).resolve().parents[1] / "fonts"
_PLAIN, _BOLD = "DejaVuSans", "DejaVuSans-Bold"
_WIDTH, _HEIGHT = A4
_LEFT, _RIGHT, _TOP, _BOTTOM = 56.0, A4[0] - 56.0, A4[1] - 64.0, 64.0
_SIZE, _LEADING = 10.0, 14.0


class _Line(Protocol):
    name: str
    article: str
    packs: str
    price: str
    total: str


class _Sheet(Protocol):
    title: str
    workshop: str
    supplier: str
    contact: str
    day: str
    lines: tuple[Any, ...]
    totals: tuple[tuple[str, str], ...]
    note: str


def _load_fonts() -> None:
    for name in (_PLAIN, _BOLD):
        if name not in pdfmetrics.getRegisteredFontNames():
            pdfmetrics.registerFont(TTFont(name, str(_FONTS / f"{name}.ttf")))


def letters_missing(text: str) -> str:
    """Return the letters of *text* that the sheet's font does not have, each once."""
    _load_fonts()
    known = pdfmetrics.getFont(_PLAIN).face.charToGlyph
    return "".join(sorted({one for one in text if not one.isspace() and ord(one) not in known}))


class _Paper:
    """A canvas that is written from the top down, page after page."""

    def __init__(self, title: str) -> None:
        self._canvas = Canvas(BytesIO(), pagesize=A4, invariant=1)
        self._canvas.setTitle(title)
        self._title = title
        self._y = _TOP

    def write(self, text: str, *, size: float = _SIZE, bold: bool = False, left: float = _LEFT, right: float = _RIGHT) -> None:
        font = _BOLD if bold else _PLAIN
        for line in simpleSplit(text, font, size, right - left) or [""]:
            self.room(_LEADING)
            self._canvas.setFont(font, size)
            self._canvas.drawString(left, self._y, line)
            self._y -= size * 1.4

    def pair(self, text: str, figure: str, *, bold: bool = False) -> None:
        """Write a text with a figure at the right edge of its first line."""
        self.room(_LEADING)
        if figure:
            font = _BOLD if bold else _PLAIN
            self._canvas.setFont(font, _SIZE)
            self._canvas.drawRightString(_RIGHT, self._y, figure)
        self.write(text, bold=bold, right=_RIGHT - 110 if figure else _RIGHT)

    def space(self, points: float) -> None:
        self._y -= points

    def rule(self) -> None:
        self._canvas.line(_LEFT, self._y + _SIZE, _RIGHT, self._y + _SIZE)
        self._y -= 4

    def room(self, points: float) -> None:
        if self._y - points < _BOTTOM:
            self._canvas.showPage()
            self._y = _TOP
            self._canvas.setFont(_PLAIN, 8)
            self._canvas.drawString(_LEFT, _HEIGHT - 40, self._title)

    def done(self) -> bytes:
        return bytes(self._canvas.getpdfdata())


def order_pdf(sheet: _Sheet) -> bytes:
    """Return the sheet of an order as PDF; the same order is the same bytes."""
    _load_fonts()
    paper = _Paper(f"{sheet.title}, {sheet.workshop}")
    paper.write(sheet.workshop, size=16, bold=True)
    paper.space(10)
    paper.write(f"{sheet.title}, {sheet.day}", bold=True)
    paper.write(f"To {sheet.supplier}")
    if sheet.contact:
        paper.write(sheet.contact)
    paper.space(16)
    for one in sheet.lines:
        paper.rule()
        paper.pair(one.name, one.total, bold=True)
        number = f"your number {one.article}" if one.article else ""
        paper.write(", ".join(part for part in (one.packs, one.price and f"{one.price} a pack", number) if part))
        paper.space(6)
    if sheet.totals:
        paper.rule()
        for name, money in sheet.totals:
            paper.pair(name, money, bold=name == "in all")
    if sheet.note:
        paper.space(12)
        for line in sheet.note.splitlines():
            paper.write(line)
    return paper.done()
