"""The curve of a batch's cure: the same drawing in page, print and mail.

Circles are weighings, the full line what is known, the dashed line with its band what is
expected; a weighing in doubt is crossed and named where it lies.
"""

from collections.abc import Iterator

from django.utils.html import format_html
from django.utils.safestring import SafeString

from curehouse.web.drawing.curve_labels import ARM, SEVERAL, doubts, heads, letters, place
from curehouse.web.drawing.curve_model import (
    CurveDrawing,
    DayMark,
    ForecastPoint,
    ReadyWindow,
    SampleCurve,
    Weighing,
    mean_lines,
    points_ahead,
    stops,
)
from curehouse.web.drawing.curve_scale import FONT, HEIGHT, WIDTH, Scale, scale_of
from curehouse.web.drawing.curve_words import BAND, BAND_TITLE, describe, doubt_label, read_ahead, read_out, shown
from curehouse.web.drawing.labels import Label
from curehouse.web.drawing.palette import (
    INK,
    LEAF_INK,
    LEAF_PALE,
    LINE,
    MUTED,
    OCHRE_INK,
    PAPER,
    SANS,
    WATER_INK,
    WATER_PALE,
)
from curehouse.web.drawing.svg import element, join, num, text_width

__all__ = [
    "CurveDrawing",
    "DayMark",
    "ForecastPoint",
    "ReadyWindow",
    "SampleCurve",
    "Weighing",
    "curve_figure",
    "describe",
    "draw_curve",
]

_SVG = "http://www.w3.org/2000/svg"
_CROWDED = 40  # weighings from which the circles shrink


def draw_curve(curve: CurveDrawing) -> SafeString:
    """Return *curve* as one <svg>, complete without any style sheet."""
    above = heads(curve)
    rows = max((row for row, _ in above), default=-1) + 1
    scale = scale_of(curve, rows)
    weighed = any(bar.weighings for bar in curve.bars)
    return element(
        "svg",
        element("title", f"Cure of {curve.batch}", id=f"{curve.key}-title"),
        element("desc", describe(curve), id=f"{curve.key}-desc"),
        _window(curve, scale),
        draw_axes(scale),
        _day_marks(curve, above, scale),
        _forecast(curve, scale),
        _known(curve, scale) if weighed else _nothing_yet(scale),
        xmlns=_SVG,
        class_="curve-drawing",
        view_box=f"0 0 {num(WIDTH)} {num(HEIGHT)}",
        width="100%",
        role="img",
        aria_labelledby=f"{curve.key}-title {curve.key}-desc",
        font_family=SANS,
        font_size=FONT,
    )


def curve_figure(curve: CurveDrawing) -> SafeString:
    """Return *curve* for a page: the drawing, and the read-out that curve.js makes a slider of."""
    return format_html(
        '<figure class="curve" data-curve="">{}{}'
        '<p class="curve-read-out" data-curve-read-out="" data-label="Weighings of {}{}" hidden=""></p>'
        "</figure>",
        draw_curve(curve),
        _legend() if curve.forecast else "",
        curve.batch,
        " and what is expected" if curve.forecast else "",
    )


def _legend() -> SafeString:
    """Return what the lines and the band are called, each beside a piece of it."""
    line: dict[str, str | float | None] = {"x1": 0, "x2": 28, "y1": 7, "y2": 7, "stroke": WATER_INK}
    pieces = (
        ("weighed", element("line", **line, class_="curve-line", stroke_width="2.5")),
        ("expected", element("line", **line, class_="curve-expected", stroke_width=2, stroke_dasharray="6 5")),
        (f"{BAND}: 8 of 10 weights", element("rect", width=28, height=14, class_="curve-band", fill=WATER_PALE)),
    )
    named = (
        format_html(
            "<span>{} {}</span>",
            element("svg", piece, view_box="0 0 28 14", width=28, height=14, aria_hidden="true", xmlns=_SVG),
            name,
        )
        for name, piece in pieces
    )
    return format_html('<p class="curve-legend">{}</p>', join(named))


def draw_label(label: Label, css: str, fill: str) -> SafeString:
    """Return a placed text that stays readable over lines."""
    return element(
        "text",
        label.text,
        x=label.x,
        y=label.y,
        text_anchor=label.anchor,
        class_=css,
        fill=fill,
        stroke=PAPER,
        stroke_width=3,
        stroke_linejoin="round",
        paint_order="stroke",
    )


def draw_axes(scale: Scale) -> SafeString:
    """Return the lines and figures of both axes."""
    plot = scale.plot
    lines = [
        element(
            "line",
            x1=plot.left,
            x2=plot.right,
            y1=scale.y(weight),
            y2=scale.y(weight),
            class_="curve-grid",
            stroke=LINE,
        )
        for weight, _ in scale.weight_ticks
    ]
    weights = [
        element("text", text, x=plot.left - 8, y=scale.y(weight) + 0.35 * FONT, text_anchor="end")
        for weight, text in scale.weight_ticks
    ]
    days = [
        element(
            "text",
            text,
            x=min(scale.x(day), WIDTH - text_width(text, FONT) / 2),
            y=HEIGHT - 8,
            text_anchor="middle",
        )
        for day, text in ((day, f"{day}\u00a0d") for day in scale.day_ticks)
    ]
    return element("g", *lines, element("g", *weights, *days, class_="curve-axis", fill=MUTED))


def _window(curve: CurveDrawing, scale: Scale) -> SafeString:
    if not curve.ready_window:
        return join(())
    left, right = scale.x(curve.ready_window.first_day), scale.x(curve.ready_window.last_day)
    return element(
        "rect", x=left, width=max(right - left, 2.0), y=0, height=scale.plot.bottom, class_="curve-window", fill=LEAF_PALE
    )


def _day_marks(curve: CurveDrawing, above: list[tuple[int, Label]], scale: Scale) -> SafeString:
    window = bool(curve.ready_window)
    labels = [label for _, label in above]
    lines = [
        element(
            "line",
            x1=scale.x(mark.day),
            x2=scale.x(mark.day),
            y1=label.y - 0.8 * FONT,
            y2=scale.plot.bottom,
            class_="curve-mark",
            stroke=MUTED,
            stroke_dasharray="3 4",
        )
        for mark, label in zip(curve.day_marks, labels[window:], strict=True)
    ]
    texts = [draw_label(label, "curve-label", MUTED) for label in labels[window:]]
    texts += [draw_label(label, "curve-label curve-leaf", LEAF_INK) for label in labels[:window]]
    return join(lines + texts)


def path_of(points: list[tuple[float, float]]) -> str:
    """Return the path through points."""
    return "M" + "L".join(f"{num(x)} {num(y)}" for x, y in points)


def _forecast(curve: CurveDrawing, scale: Scale) -> SafeString:
    if not curve.forecast:
        return join(())
    days = [scale.x(point.day) for point in curve.forecast]

    def over(weights_g: list[float]) -> list[tuple[float, float]]:
        return [(x, scale.y(shown(g, curve.unit))) for x, g in zip(days, weights_g, strict=True)]

    low = over([point.low_g for point in curve.forecast])
    mid = over([point.mid_g for point in curve.forecast])
    high = over([point.high_g for point in curve.forecast])
    return join(
        (
            element(
                "path",
                element("title", BAND_TITLE),
                d=path_of(high + low[::-1]) + "Z",
                class_="curve-band",
                fill=WATER_PALE,
            ),
            element(
                "path",
                d=path_of(mid),
                class_="curve-expected",
                fill="none",
                stroke=WATER_INK,
                stroke_width=2,
                stroke_dasharray="6 5",
            ),
        )
    )


def _known(curve: CurveDrawing, scale: Scale) -> SafeString:
    several = sum(1 for bar in curve.bars if bar.known) >= SEVERAL
    ends = letters(curve, scale)
    return join(
        (
            *(_bar_line(bar, curve, scale) for bar in curve.bars if several and len(bar.known) > 1),
            *(
                element(
                    "path",
                    d=path_of([(scale.x(d), scale.y(shown(g, curve.unit))) for d, g in line]),
                    class_="curve-line",
                    fill="none",
                    stroke=WATER_INK,
                    stroke_width=2.5,
                    stroke_linejoin="round",
                    stroke_linecap="round",
                )
                for line in mean_lines(curve.bars)
            ),
            *_stops(curve, scale),
            *_stops_ahead(curve, scale),
            *(draw_label(label, "curve-label curve-letter", WATER_INK) for label in ends),
            *(draw_label(label, "curve-label curve-ochre", OCHRE_INK) for label in doubts(curve, scale, ends)),
            element(
                "line",
                x1=0,
                x2=0,
                y1=scale.plot.top,
                y2=scale.plot.bottom,
                class_="curve-cursor",
                stroke=INK,
                visibility="hidden",
            ),
        )
    )


def _bar_line(bar: SampleCurve, curve: CurveDrawing, scale: Scale) -> SafeString:
    points = [(scale.x(w.day), scale.y(shown(w.weight_g, curve.unit))) for w in bar.known]
    return element("path", d=path_of(points), class_="curve-bar", fill="none", stroke=WATER_INK, stroke_opacity="0.35")


def _stops(curve: CurveDrawing, scale: Scale) -> Iterator[SafeString]:
    """Yield one group a round: its circles and crosses, and what the cursor says there."""
    crowded = sum(len(bar.weighings) for bar in curve.bars) >= _CROWDED
    for stop in stops(curve.bars):
        yield element(
            "g",
            *(_point(letter, weighing, curve, scale, crowded=crowded) for letter, weighing in stop.weighings),
            class_="curve-stop",
            data_x=scale.x(stop.day),
            data_say=read_out(stop, curve.unit),
        )


def _stops_ahead(curve: CurveDrawing, scale: Scale) -> Iterator[SafeString]:
    """Yield what the cursor says on the days that are foretold; the band is drawn already."""
    for point in points_ahead(curve):
        yield element(
            "g", class_="curve-stop", data_foretold="", data_x=scale.x(point.day), data_say=read_ahead(point, curve.unit)
        )


def _point(letter: str, weighing: Weighing, curve: CurveDrawing, scale: Scale, *, crowded: bool) -> SafeString:
    x, y = place(weighing, curve, scale)
    if not weighing.doubt:
        return element(
            "circle",
            cx=x,
            cy=y,
            r=2.4 if crowded else 4.0,
            class_="curve-weighing crowded" if crowded else "curve-weighing",
            fill=PAPER,
            stroke=WATER_INK,
            stroke_width="1.2" if crowded else "2",
        )
    return element(
        "path",
        element("title", f"bar {letter}, {doubt_label(weighing.weight_g, weighing.doubt, curve.unit)}"),
        d=f"M{num(x - ARM)} {num(y - ARM)}L{num(x + ARM)} {num(y + ARM)}"
        f"M{num(x - ARM)} {num(y + ARM)}L{num(x + ARM)} {num(y - ARM)}",
        class_="curve-doubt",
        fill="none",
        stroke=OCHRE_INK,
        stroke_width=2,
    )


def _nothing_yet(scale: Scale) -> SafeString:
    middle = (scale.plot.left + scale.plot.right) / 2
    height = (scale.plot.top + scale.plot.bottom) / 2
    return element(
        "text",
        element("tspan", "No weighings yet.", x=middle, y=height - 4, fill=INK),
        element("tspan", "The first, on the day of the cut, starts the line.", x=middle, y=height + 16),
        text_anchor="middle",
        class_="curve-empty",
        fill=MUTED,
    )
