"""How full the racks will be day by day, with the bars of one run on top: the same drawing in page, print and mail.

The full line is what stands there or is kept for other runs, the band above it the run's bars, the dashed line as many
as there is room for.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.utils.html import format_html
from django.utils.safestring import SafeString

from curehouse.web.drawing.curve import path_of
from curehouse.web.drawing.curve_scale import FONT, ROW, WIDTH, Scale, day_ticks, weight_ticks
from curehouse.web.drawing.day_axis import draw_dates, draw_stops
from curehouse.web.drawing.palette import INK, LINE, MUTED, SANS, WATER_INK, WATER_PALE
from curehouse.web.drawing.svg import Box, element, join, num, text_width

_PLOT = 150.0


@dataclass(frozen=True, slots=True)
class LoadDay:
    """A day, counted from today: bars that stand there or are kept for others, and those of the run; and what is said of it."""

    day: int
    others: int
    own: int
    says: str = ""


@dataclass(frozen=True, slots=True)
class RackLoad:
    """The racks as they are to be drawn; ``room`` is how many bars they hold, ``said`` the whole in words."""

    key: str
    today: date
    room: int
    days: Sequence[LoadDay]
    said: str
    has_own: bool = True


def load_figure(load: RackLoad) -> SafeString:
    """Return *load* for a page: the drawing, what its lines are called, and the read-out that curve.js makes a slider of."""
    return format_html(
        '<figure class="curve" data-curve="">{}{}'
        '<p class="curve-read-out" data-curve-read-out="" data-label="How full the racks will be" hidden=""></p>'
        "</figure>",
        draw_load(load),
        _legend(has_own=load.has_own),
    )


def draw_load(load: RackLoad) -> SafeString:
    """Return *load* as one <svg>, complete without any style sheet."""
    scale = _scale(load)
    height = scale.plot.bottom + 6 + ROW
    return element(
        "svg",
        element("title", "How full the racks will be", id=f"{load.key}-title"),
        element("desc", load.said, id=f"{load.key}-desc"),
        _axes(load, scale, height),
        _own(load, scale) if load.has_own else "",
        element(
            "path", d=path_of(_steps(load, "others", scale)), class_="curve-line", fill="none", stroke=WATER_INK,
            stroke_width="2", stroke_linejoin="round",
        ),
        element(
            "path", d=path_of([(scale.plot.left, scale.y(load.room)), (scale.plot.right, scale.y(load.room))]),
            class_="curve-expected", fill="none", stroke=WATER_INK, stroke_width="2", stroke_dasharray="6 5",
        ),
        *draw_stops(load.days, scale),
        element(
            "line", x1=0, x2=0, y1=scale.plot.top, y2=height - ROW, class_="curve-cursor", stroke=INK, visibility="hidden"
        ),
        xmlns="http://www.w3.org/2000/svg",
        class_="curve-drawing stock-drawing",
        view_box=f"0 0 {num(WIDTH)} {num(height)}",
        width="100%",
        role="img",
        aria_labelledby=f"{load.key}-title {load.key}-desc",
        font_family=SANS,
        font_size=FONT,
    )  # fmt: skip


def _scale(load: RackLoad) -> Scale:
    most = max([load.room, *(one.others + one.own for one in load.days)])
    ticks = tuple((bars, text.strip("\u00a0")) for bars, text in weight_ticks(0.0, 1.04 * most, "") if bars == int(bars))
    widest = max(text_width(text, FONT) for text in ["bars", *(text for _, text in ticks)])
    last = max(load.days[-1].day, 1)
    return Scale(
        plot=Box(widest + 12, 8 + ROW, WIDTH - 8, 8 + ROW + _PLOT),
        first_day=0.0,
        last_day=last,
        low=0.0,
        high=1.04 * most,
        day_ticks=day_ticks(0.0, last),
        weight_ticks=ticks,
    )


def _axes(load: RackLoad, scale: Scale, height: float) -> SafeString:
    plot = scale.plot
    lines = [
        element("line", x1=plot.left, x2=plot.right, y1=scale.y(bars), y2=scale.y(bars), class_="curve-grid", stroke=LINE)
        for bars, _ in scale.weight_ticks
    ]
    counts = [
        element("text", text, x=plot.left - 8, y=scale.y(bars) + 0.35 * FONT, text_anchor="end")
        for bars, text in scale.weight_ticks
    ]
    unit = element("text", "bars", x=plot.left - 8, y=plot.top - 8, text_anchor="end")
    return element(
        "g", *lines, element("g", unit, *counts, *draw_dates(scale, load.today, height), class_="curve-axis", fill=MUTED)
    )


def _steps(load: RackLoad, which: str, scale: Scale) -> list[tuple[float, float]]:
    """Return the corners of a line that changes on a day and stays until the next; ``others``, or ``all`` with the run."""
    bars = [one.others + (one.own if which == "all" else 0) for one in load.days]
    corners = [(scale.x(load.days[0].day), scale.y(bars[0]))]
    for one, many in zip(load.days[1:], bars[1:], strict=True):
        x, y = scale.x(one.day), scale.y(many)
        if num(y) != num(corners[-1][1]):
            corners += [(x, corners[-1][1]), (x, y)]
    return [*corners, (scale.x(load.days[-1].day), corners[-1][1])]


def _own(load: RackLoad, scale: Scale) -> SafeString:
    corners = _steps(load, "all", scale) + _steps(load, "others", scale)[::-1]
    return element("path", element("title", "this run"), d=path_of(corners) + "Z", class_="curve-band", fill=WATER_PALE)


def _legend(*, has_own: bool) -> SafeString:
    line: dict[str, str | float | None] = {"x1": 0, "x2": 28, "y1": 7, "y2": 7, "stroke": WATER_INK, "stroke_width": 2}
    pieces = [
        ("stands or is kept", element("line", **line, class_="curve-line")),
        ("this run", element("rect", width=28, height=14, class_="curve-band", fill=WATER_PALE)),
        ("room for", element("line", **line, class_="curve-expected", stroke_dasharray="6 5")),
    ]
    named = (
        format_html(
            "<span>{} {}</span>",
            element("svg", piece, view_box="0 0 28 14", width=28, height=14, aria_hidden="true", xmlns="http://www.w3.org/2000/svg"),
            name,
        )
        for name, piece in pieces
        if has_own or name != "this run"
    )  # fmt: skip
    return format_html('<p class="curve-legend">{}</p>', join(named))
