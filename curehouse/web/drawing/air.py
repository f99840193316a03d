"""The air of a room by the day: humidity above, temperature beneath, each with its own axis."""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.safestring import SafeString

from curehouse.web.drawing.palette import INK, LINE, MUTED, PAPER, SANS, WATER_INK
from curehouse.web.drawing.svg import Box, element, num, text_width

_WIDTH, _PANEL, _FONT, _GAP, _HEAD = 376.0, 112.0, 13.0, 14.0, 20.0
_LEAST_SPAN = {"%": 20.0, "°C": 8.0, "°F": 15.0}
# A gap of more days than this is left open: what lies in it nobody knows.
_JOINED_DAYS = 3


@dataclass(frozen=True, slots=True)
class AirDay:
    """The means of a day: humidity in %, and the temperature, in the drawing's degrees, where it is known."""

    day: date
    humidity_pct: float
    temperature: float | None


@dataclass(frozen=True, slots=True)
class AirDrawing:
    """The days of a room from ``first`` to ``last``."""

    room: str
    key: str
    first: date
    last: date
    days: Sequence[AirDay]
    degrees: str = "°C"


@dataclass(frozen=True, slots=True)
class _Panel:
    name: str
    unit: str
    points: Sequence[tuple[date, float]]
    box: Box
    low: float
    high: float
    step: float

    def y(self, value: float) -> float:
        return self.box.bottom - (value - self.low) / (self.high - self.low) * (self.box.bottom - self.box.top)


def draw_air(air: AirDrawing) -> SafeString:
    """Return the drawing as one <svg>, complete without any style sheet."""
    series = [("Humidity", "%", [(one.day, one.humidity_pct) for one in air.days])]
    warm = [(one.day, one.temperature) for one in air.days if one.temperature is not None]
    if warm:
        series.append(("Temperature", air.degrees, warm))
    panels = [_panel(number, *one) for number, one in enumerate(series)]
    height = panels[-1].box.bottom + 24

    def x(day: date) -> float:
        box = panels[0].box
        return box.left + (day - air.first).days / max((air.last - air.first).days, 1) * (box.right - box.left)

    return element(
        "svg",
        element("title", f"Air of {air.room}", id=f"{air.key}-title"),
        element("desc", describe(air), id=f"{air.key}-desc"),
        *(_drawn(panel, x) for panel in panels),
        element("g", *_day_axis(air, x, height - 6), class_="curve-axis", fill=MUTED),
        xmlns="http://www.w3.org/2000/svg",
        class_="curve-drawing",
        view_box=f"0 0 {num(_WIDTH)} {num(height)}",
        width="100%",
        role="img",
        aria_labelledby=f"{air.key}-title {air.key}-desc",
        font_family=SANS,
        font_size=_FONT,
    )


def describe(air: AirDrawing) -> str:
    """Return the figures of the drawing in a sentence."""
    if not air.days:
        return "No readings in these days."
    said = [_range("Humidity", "%", [one.humidity_pct for one in air.days])]
    warm = [one.temperature for one in air.days if one.temperature is not None]
    if warm:
        said.append(_range("temperature", air.degrees, warm))
    return f"{' and '.join(said)}, means of {len(air.days)} days."


def _range(name: str, unit: str, values: Sequence[float]) -> str:
    return f"{name} from {min(values):.1f} to {max(values):.1f}\u00a0{unit}"


def _panel(number: int, name: str, unit: str, points: Sequence[tuple[date, float]]) -> _Panel:
    values = [value for _day, value in points]
    low, high = min(values), max(values)
    spare = max(_LEAST_SPAN[unit] - (high - low), 0.1 * (high - low)) / 2
    low, high = low - spare, high + spare
    step = next(one for one in (1.0, 2.0, 5.0, 10.0, 20.0, 50.0) if (high - low) / one <= 4)
    low, high = math.floor(low / step) * step, math.ceil(high / step) * step
    if unit == "%":
        low, high = max(low, 0.0), min(high, 100.0)
    top = number * (_HEAD + _PANEL + _GAP) + _HEAD
    return _Panel(name, unit, points, Box(52.0, top + 6, _WIDTH - 10, top + _PANEL), low, high, step)


def _drawn(panel: _Panel, x: Callable[[date], float]) -> SafeString:
    box, lines, texts = panel.box, [], []
    for number in range(round((panel.high - panel.low) / panel.step) + 1):
        value = panel.low + number * panel.step
        at = panel.y(value)
        lines.append(element("line", x1=box.left, x2=box.right, y1=at, y2=at, class_="curve-grid", stroke=LINE))
        texts.append(
            element("text", f"{value:g}\u00a0{panel.unit}".replace("-", "−"), x=box.left - 6, y=at + 4.5, text_anchor="end")
        )
    drawn = [_line(panel, run, x) for run in _runs(panel)]
    head = element("text", panel.name, x=0.0, y=box.top - 12, fill=INK, class_="rack-name")
    return element("g", *lines, element("g", *texts, class_="curve-axis", fill=MUTED), head, *drawn)


def _runs(panel: _Panel) -> Iterator[list[tuple[date, float]]]:
    """Yield what hangs together: days with no long gap between them."""
    run: list[tuple[date, float]] = []
    for point in panel.points:
        if run and (point[0] - run[-1][0]).days > _JOINED_DAYS:
            yield run
            run = []
        run.append(point)
    yield run


def _line(panel: _Panel, run: Sequence[tuple[date, float]], x: Callable[[date], float]) -> SafeString:
    places = [(x(day), panel.y(value)) for day, value in run]
    if len(places) == 1:
        ((left, top),) = places
        return element(
            "circle", cx=left, cy=top, r=2.8, class_="curve-weighing", fill=PAPER, stroke=WATER_INK, stroke_width="1.5"
        )  # fmt: skip
    return element(
        "path",
        d="M" + "L".join(f"{num(left)} {num(top)}" for left, top in places),
        class_="curve-line",
        fill="none",
        stroke=WATER_INK,
        stroke_width=2,
        stroke_linejoin="round",
    )


def _day_axis(air: AirDrawing, x: Callable[[date], float], y: float) -> Iterator[SafeString]:
    """Yield the days beneath: the first, the last and one between."""
    span = (air.last - air.first).days
    for share in (0.0, 0.5, 1.0):
        day = air.first + timedelta(days=round(share * span))
        text = f"{day.day} {day:%b}" if span < 300 else f"{day:%b %Y}"
        half = text_width(text, _FONT) / 2
        yield element("text", text, x=min(max(x(day), half), _WIDTH - half), y=y, text_anchor="middle")
