"""What will be here of a material day by day: the same drawing in page, print and mail.

The full line is what is planned, the dashed one with its band what is expected with use that nobody planned; beneath
them, each in a row of its own with its word, when runs take of it, when orders bring some, when orders would that are not
sent (which no line counts), and when lots expire.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from django.utils.html import format_html
from django.utils.safestring import SafeString

from curehouse.web.drawing.curve import draw_label, path_of
from curehouse.web.drawing.curve_scale import FONT, ROW, WIDTH, Scale, day_ticks, weight_ticks
from curehouse.web.drawing.day_axis import draw_dates, draw_stops
from curehouse.web.drawing.labels import Label, label_at
from curehouse.web.drawing.palette import CLAY_INK, INK, LEAF_INK, LINE, MUTED, OCHRE_INK, PAPER, SANS, WATER_INK, WATER_PALE
from curehouse.web.drawing.svg import Box, element, join, num, text_width

Kind = Literal["runs", "comes", "if sent", "expires"]
_KINDS: tuple[Kind, ...] = ("runs", "comes", "if sent", "expires")
_PLOT, _ARM = 184.0, 4.0
# Less than what a ledger keeps is no amount.
_NOTHING = 0.0005


@dataclass(frozen=True, slots=True)
class StockDay:
    """A day, counted from today, in the drawing's unit: what is left at its end, and what the cursor says of it.

    Of a day that the cursor passes over nothing is said.
    """

    day: int
    left: float
    low: float
    high: float
    planned: float
    says: str = ""


@dataclass(frozen=True, slots=True)
class StockMark:
    """Something on a day; what may come sooner or later has the ends of it."""

    kind: Kind
    day: int
    first: int
    last: int
    name: str


@dataclass(frozen=True, slots=True)
class StockFlag:
    """A day from which it is short, likely or perhaps."""

    day: int
    label: str
    is_likely: bool


@dataclass(frozen=True, slots=True)
class StockDrawing:
    """A material's stock as it is to be drawn; ``opening`` is what is usable now, ``key`` makes ids unique on a page.

    ``has_unplanned``: the likely line is another than the planned one.
    """

    material: str
    key: str
    today: date
    opening: float
    days: Sequence[StockDay]
    marks: Sequence[StockMark]
    flags: Sequence[StockFlag]
    unit: str
    said: str
    has_unplanned: bool

    @property
    def band_says(self) -> str:
        """Return between what the band lies."""
        of_use = ["with less or more of it"] if self.has_unplanned else []
        return ", ".join([*of_use, *(["orders sooner or later"] if any(one.kind == "comes" for one in self.marks) else [])])

    @property
    def has_band(self) -> bool:
        """Return whether the ends differ anywhere."""
        return any(one.low < one.high for one in self.days)


def stock_figure(stock: StockDrawing) -> SafeString:
    """Return *stock* for a page: the drawing, what its lines are called, and the read-out that curve.js makes a slider of."""
    return format_html(
        '<figure class="curve" data-curve="">{}{}'
        '<p class="curve-read-out" data-curve-read-out="" data-label="What will be here of {}" hidden=""></p>'
        "</figure>",
        draw_stock(stock),
        _legend(stock),
        stock.material,
    )


def draw_stock(stock: StockDrawing) -> SafeString:
    """Return *stock* as one <svg>, complete without any style sheet."""
    rows = [kind for kind in _KINDS if any(mark.kind == kind for mark in stock.marks)]
    scale = _scale(stock, rows)
    height = scale.plot.bottom + 6 + ROW * (len(rows) + 1)
    return element(
        "svg",
        element("title", f"What will be here of {stock.material}", id=f"{stock.key}-title"),
        element("desc", stock.said, id=f"{stock.key}-desc"),
        _axes(stock, scale, height),
        _band(stock, scale),
        _line([(one.day, one.planned) for one in stock.days], stock, scale, "curve-line"),
        _line([(one.day, one.left) for one in stock.days], stock, scale, "curve-expected") if stock.has_unplanned else "",
        *(_row(kind, place, stock, scale) for place, kind in enumerate(rows)),
        *_flags(stock, scale),
        *draw_stops(stock.days, scale),
        element(
            "line", x1=0, x2=0, y1=scale.plot.top, y2=height - ROW, class_="curve-cursor", stroke=INK, visibility="hidden"
        ),
        xmlns="http://www.w3.org/2000/svg",
        class_="curve-drawing stock-drawing",
        view_box=f"0 0 {num(WIDTH)} {num(height)}",
        width="100%",
        role="img",
        aria_labelledby=f"{stock.key}-title {stock.key}-desc",
        font_family=SANS,
        font_size=FONT,
    )  # fmt: skip


def _scale(stock: StockDrawing, rows: Sequence[Kind]) -> Scale:
    most = max([stock.opening, *(one.high for one in stock.days), *(one.planned for one in stock.days)])
    top = 1.04 * most if most > _NOTHING else 1.0
    ticks = tuple((amount, text.strip("\u00a0")) for amount, text in weight_ticks(0.0, top, ""))
    widest = max(text_width(text, FONT) for text in [stock.unit, *(text for _, text in ticks), *rows])
    last = max(stock.days[-1].day, 1)
    above = 8 + ROW * max(len(stock.flags), 1)
    return Scale(
        plot=Box(widest + 12, above, WIDTH - 8, above + _PLOT),
        first_day=0.0,
        last_day=last,
        low=0.0,
        high=top,
        day_ticks=day_ticks(0.0, last),
        weight_ticks=ticks,
    )


def _axes(stock: StockDrawing, scale: Scale, height: float) -> SafeString:
    plot = scale.plot
    lines = [
        element("line", x1=plot.left, x2=plot.right, y1=scale.y(amount), y2=scale.y(amount), class_="curve-grid", stroke=LINE)
        for amount, _ in scale.weight_ticks
    ]
    amounts = [
        element("text", text, x=plot.left - 8, y=scale.y(amount) + 0.35 * FONT, text_anchor="end")
        for amount, text in scale.weight_ticks
    ]
    unit = element("text", stock.unit, x=plot.left - 8, y=plot.top - 8, text_anchor="end")
    return element(
        "g", *lines, element("g", unit, *amounts, *draw_dates(scale, stock.today, height), class_="curve-axis", fill=MUTED)
    )


def _steps(points: Sequence[tuple[int, float]], opening: float, scale: Scale) -> list[tuple[float, float]]:
    """Return the corners of a line that changes on each day and stays until the next."""
    level = scale.y(opening)
    corners = [(scale.x(points[0][0]), level)]
    for day, amount in points:
        x, y = scale.x(day), scale.y(amount)
        if num(y) != num(level):
            corners += [(x, level), (x, y)]
            level = y
    return [*corners, (scale.x(points[-1][0]), level)]


def _band(stock: StockDrawing, scale: Scale) -> SafeString:
    if not stock.has_band:
        return join(())
    low, high = (
        _steps([(one.day, getattr(one, name)) for one in stock.days], stock.opening, scale) for name in ("low", "high")
    )
    title = element("title", stock.band_says)
    return element("path", title, d=path_of(high + low[::-1]) + "Z", class_="curve-band", fill=WATER_PALE)


def _line(points: Sequence[tuple[int, float]], stock: StockDrawing, scale: Scale, css: str) -> SafeString:
    is_expected = css == "curve-expected"
    return element(
        "path",
        d=path_of(_steps(points, stock.opening, scale)),
        class_=css,
        fill="none",
        stroke=WATER_INK,
        stroke_width="2",
        stroke_dasharray="6 5" if is_expected else None,
        stroke_linejoin="round",
    )


def _row(kind: Kind, place: int, stock: StockDrawing, scale: Scale) -> SafeString:
    """Return a row beneath the plot: its word, and a mark on each day."""
    y = scale.plot.bottom + 6 + ROW * (place + 0.5)
    name = element("text", kind, x=scale.plot.left - 8, y=y + 0.35 * FONT, text_anchor="end", class_="curve-axis", fill=MUTED)
    return element("g", name, *(_mark(mark, y, scale) for mark in stock.marks if mark.kind == kind))


def _mark(mark: StockMark, y: float, scale: Scale) -> SafeString:
    x, title = scale.x(mark.day), element("title", mark.name)
    if mark.kind == "runs":
        shape = f"M{num(x - _ARM)} {num(y - _ARM)}h{num(2 * _ARM)}L{num(x)} {num(y + _ARM)}Z"
        return element("path", title, d=shape, class_="stock-run", fill=INK)
    if mark.kind == "expires":
        return element(
            "path",
            title,
            d=f"M{num(x - _ARM)} {num(y - _ARM)}L{num(x + _ARM)} {num(y + _ARM)}"
            f"M{num(x - _ARM)} {num(y + _ARM)}L{num(x + _ARM)} {num(y - _ARM)}",
            class_="curve-doubt",
            fill="none",
            stroke=OCHRE_INK,
            stroke_width=2,
        )
    if mark.kind == "if sent":
        return element(
            "circle", title, cx=x, cy=y, r=_ARM, class_="stock-draft", fill=PAPER, stroke=MUTED, stroke_width=2,
            stroke_dasharray="2 2",
        )  # fmt: skip
    reach = element(
        "line", x1=scale.x(mark.first), x2=scale.x(mark.last), y1=y, y2=y, class_="stock-reach", stroke=LEAF_INK, stroke_width=2
    )
    dot = element("circle", cx=x, cy=y, r=_ARM, class_="stock-comes", fill=PAPER, stroke=LEAF_INK, stroke_width=2)
    return element("g", title, reach, dot)


def _flags(stock: StockDrawing, scale: Scale) -> Iterator[SafeString]:
    """Yield the days from which it is short, each with its word above the plot."""
    for row, flag in enumerate(stock.flags):
        x = scale.x(flag.day)
        css, ink = ("curve-clay", CLAY_INK) if flag.is_likely else ("curve-ochre", OCHRE_INK)
        label = _head(flag.label, x, row)
        yield element(
            "line",
            x1=x,
            x2=x,
            y1=label.y - 0.8 * FONT,
            y2=scale.plot.bottom,
            class_=f"stock-flag {css}",
            stroke=ink,
            stroke_dasharray="3 4",
        )
        yield draw_label(label, f"curve-label {css}", ink)


def _head(text: str, x: float, row: int) -> Label:
    y, width = ROW * (row + 1) - 3, text_width(text, FONT)
    if x + 4 + width <= WIDTH:
        return label_at(text, x + 4, y, "start", FONT)
    # In the middle a long day has room on neither side.
    return label_at(text, max(x - 4, width), y, "end", FONT)


def _legend(stock: StockDrawing) -> SafeString:
    """Return what the lines and the band are called, each beside a piece of it; nothing where there is one line alone."""
    line: dict[str, str | float | None] = {"x1": 0, "x2": 28, "y1": 7, "y2": 7, "stroke": WATER_INK, "stroke_width": 2}
    pieces = [("as planned", element("line", **line, class_="curve-line"))]
    if stock.has_unplanned:
        usual = element("line", **line, class_="curve-expected", stroke_dasharray="6 5")
        pieces.append(("with usual use besides", usual))
    if stock.has_band:
        band = element("rect", width=28, height=14, class_="curve-band", fill=WATER_PALE)
        pieces.append((stock.band_says, band))
    if len(pieces) == 1:
        return join(())
    named = (
        format_html(
            "<span>{} {}</span>",
            element("svg", piece, view_box="0 0 28 14", width=28, height=14, aria_hidden="true", xmlns="http://www.w3.org/2000/svg"),
            name,
        )
        for name, piece in pieces
    )  # fmt: skip
    return format_html('<p class="curve-legend">{}</p>', join(named))
