"""Batches of a formula laid over each other: weight left by day since the pour, beside what is expected of such batches.

Each line ends at its batch's name; the newest is drawn strong, the others behind it.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.html import format_html
from django.utils.safestring import SafeString

from curehouse.core.cure.formula_curve import ExpectedPoint
from curehouse.web.drawing.curve import draw_axes, draw_label, path_of
from curehouse.web.drawing.curve_scale import FONT, HEIGHT, ROW, WIDTH, Scale, day_ticks, weight_ticks
from curehouse.web.drawing.labels import Label, label_at, spread
from curehouse.web.drawing.palette import MUTED, SANS, WATER_INK, WATER_PALE
from curehouse.web.drawing.svg import Box, element, join, num, shorten, text_width

# More lines than these cannot be told apart, and their names not be set one under the other.
MOST_LINES = 12
_LONGEST_NAME = 9
_LEADER = 14.0
_EXPECTED = "expected"


@dataclass(frozen=True, slots=True)
class OverlayLine:
    """A batch: its name in full and as short as it stands at its line's end, and its points (day since the pour, %)."""

    name: str
    short: str
    points: tuple[tuple[float, float], ...]

    @property
    def last(self) -> tuple[float, float]:
        """The newest day and the weight left then."""
        return self.points[-1]


@dataclass(frozen=True, slots=True)
class Overlay:
    """Batches to be laid over each other, the newest first; of ``expected`` days count from the pour, too."""

    formula: str
    lines: tuple[OverlayLine, ...]
    expected: tuple[ExpectedPoint, ...] = ()
    key: str = "overlay"


def overlay_figure(overlay: Overlay) -> SafeString:
    """Return *overlay* for a page."""
    return format_html('<figure class="curve">{}</figure>', draw_overlay(overlay))


def draw_overlay(overlay: Overlay) -> SafeString:
    """Return *overlay* as one <svg>, complete without any style sheet; at most ``MOST_LINES`` lines."""
    scale = _scale(overlay)
    return element(
        "svg",
        element("title", f"Batches of {overlay.formula} laid over each other", id=f"{overlay.key}-title"),
        element("desc", describe_overlay(overlay), id=f"{overlay.key}-desc"),
        draw_axes(scale),
        _expected(overlay, scale),
        *(_line(line, scale, is_newest=number == 0) for number, line in reversed(list(enumerate(overlay.lines)))),
        *_names(overlay, scale),
        xmlns="http://www.w3.org/2000/svg",
        class_="curve-drawing overlay-drawing",
        view_box=f"0 0 {num(WIDTH)} {num(HEIGHT)}",
        width="100%",
        role="img",
        aria_labelledby=f"{overlay.key}-title {overlay.key}-desc",
        font_family=SANS,
        font_size=FONT,
    )


def expected_on(expected: Sequence[ExpectedPoint], day: float) -> ExpectedPoint | None:
    """Return what is expected on a day, between those that are known by a straight line; None outside."""
    if not expected or not expected[0].day <= day <= expected[-1].day:
        return None
    after = next(at for at, point in enumerate(expected) if point.day >= day)
    later, before = expected[after], expected[max(after - 1, 0)]
    share = 1.0 if later.day == before.day else (day - before.day) / (later.day - before.day)

    def between(one: float, other: float) -> float:
        return one + share * (other - one)

    return ExpectedPoint(
        day,
        between(before.low_pct, later.low_pct),
        between(before.middle_pct, later.middle_pct),
        between(before.high_pct, later.high_pct),
    )


def describe_overlay(overlay: Overlay) -> str:
    """Return the figures in words: what is expected at the end, and where each batch stands against it."""
    parts = ["Weight left in % of the weight at the cut, by days since the pour."]
    if overlay.expected:
        last = overlay.expected[-1]
        parts.append(
            f"Expected on day {round(last.day)}: {last.middle_pct:.1f} %, 8 of 10 batches between "
            f"{last.low_pct:.1f} and {last.high_pct:.1f} %."
        )
    parts += [f"{line.name}: {against(line, overlay.expected)}." for line in overlay.lines]
    return " ".join(parts)


def against(line: OverlayLine, expected: Sequence[ExpectedPoint]) -> str:
    """Return a batch's newest weight, and how it lies to what is expected on that day."""
    day, left = line.last
    said = f"{left:.1f}\u00a0% on day\u00a0{round(day)}"
    there = expected_on(expected, day)
    if there is None:
        return said
    apart = left - there.middle_pct
    if abs(apart) < 0.05:
        return f"{said}, as expected"
    lies = "" if there.low_pct <= left <= there.high_pct else ", outside of what 8 of 10 do"
    return f"{said}, {abs(apart):.1f} {'above' if apart > 0 else 'below'} what is expected{lies}"


def _scale(overlay: Overlay) -> Scale:
    days = [day for line in overlay.lines for day, _ in line.points] + [point.day for point in overlay.expected]
    left = [pct for line in overlay.lines for _, pct in line.points]
    left += [pct for point in overlay.expected for pct in (point.low_pct, point.high_pct)]
    low, high = min(left, default=90.0), max([100.0, *left])
    pad = 0.04 * (high - low) or 0.5
    ticks = weight_ticks(low - pad, high, "%")
    names = [text_width(_short(line.short), FONT) for line in overlay.lines] + [text_width(_EXPECTED, FONT)]
    last = max([7.0, *days])
    return Scale(
        plot=Box(
            max((text_width(text, FONT) for _, text in ticks), default=0.0) + 8,
            10.0,
            WIDTH - max(names) - _LEADER - 2,
            HEIGHT - 2 * ROW + 6,
        ),
        first_day=0.0,
        last_day=last,
        low=low - pad,
        high=high,
        day_ticks=day_ticks(0.0, last),
        weight_ticks=ticks,
    )


def _short(name: str) -> str:
    return shorten(name, text_width("m" * _LONGEST_NAME, FONT), FONT)


def _expected(overlay: Overlay, scale: Scale) -> SafeString:
    if not overlay.expected:
        return join(())
    low, middle, high = (
        [(scale.x(point.day), scale.y(getattr(point, name))) for point in overlay.expected]
        for name in ("low_pct", "middle_pct", "high_pct")
    )
    return join(
        (
            element("path", d=path_of(high + low[::-1]) + "Z", class_="curve-band", fill=WATER_PALE),
            element(
                "path", d=path_of(middle), class_="curve-expected", fill="none", stroke=WATER_INK, stroke_width=2,
                stroke_dasharray="6 5",
            ),
        )
    )  # fmt: skip


def _line(line: OverlayLine, scale: Scale, *, is_newest: bool) -> SafeString:
    return element(
        "path",
        element("title", line.name),
        d=path_of([(scale.x(day), scale.y(pct)) for day, pct in line.points]),
        class_="curve-line",
        fill="none",
        stroke=WATER_INK,
        stroke_width="2.75" if is_newest else "1.4",
        stroke_opacity="1" if is_newest else "0.65",
        stroke_linejoin="round",
        stroke_linecap="round",
    )


def _names(overlay: Overlay, scale: Scale) -> list[SafeString]:
    """Return each line's name in a column at the right edge, with a thin line to where its batch stands."""
    ends = [(_short(line.short), line.last, "curve-label curve-letter", WATER_INK) for line in overlay.lines]
    if overlay.expected:
        point = overlay.expected[-1]
        ends.append((_EXPECTED, (point.day, point.middle_pct), "curve-label", MUTED))
    heights = [scale.y(pct) for _, (_, pct), _, _ in ends]
    apart = spread(heights, FONT + 1, scale.plot.top + FONT / 2, scale.plot.bottom - FONT / 2)
    if apart is None:
        return []
    column = scale.plot.right + _LEADER
    drawn: list[SafeString] = []
    for (text, (day, pct), css, fill), height in zip(ends, apart, strict=True):
        label: Label = label_at(text, column, height + 0.35 * FONT, "start", FONT)
        drawn.append(
            element(
                "path", d=path_of([(scale.x(day), scale.y(pct)), (column - 3, height)]), class_="curve-leader", fill="none",
                stroke=MUTED, stroke_width="0.75", stroke_dasharray="1 3",
            )
        )  # fmt: skip
        drawn.append(draw_label(label, css, fill))
    return drawn
