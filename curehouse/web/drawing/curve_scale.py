"""Where days and weights lie on the drawing."""

import math
from dataclasses import dataclass

from curehouse.web.drawing.curve_model import CurveDrawing, mean_lines
from curehouse.web.drawing.curve_words import shown
from curehouse.web.drawing.svg import Box, text_width

WIDTH = 376.0
HEIGHT = 268.0
FONT = 13.0
ROW = 17.0  # height of one line of labels

_DAY_STEPS = (1, 2, 7, 14, 28, 56, 112, 182, 364)
_MOST_DAY_TICKS = 6
_LETTER_ROOM = 20.0
# A doubtful weight further off than this share of the spread would flatten the curve itself.
_DOUBT_REACH = 0.6


@dataclass(frozen=True, slots=True)
class Scale:
    """The plot's frame, the ranges it shows and its ticks (weights in the shown unit)."""

    plot: Box
    first_day: float
    last_day: float
    low: float
    high: float
    day_ticks: tuple[int, ...]
    weight_ticks: tuple[tuple[float, str], ...]

    def x(self, day: float) -> float:
        share = (day - self.first_day) / (self.last_day - self.first_day)
        return self.plot.left + share * (self.plot.right - self.plot.left)

    def y(self, weight: float) -> float:
        share = (weight - self.low) / (self.high - self.low)
        return self.plot.bottom - share * (self.plot.bottom - self.plot.top)

    def y_held(self, weight: float) -> float:
        """Return the height of *weight*, held at the plot's edge when it lies outside."""
        return min(max(self.y(weight), self.plot.top + 6), self.plot.bottom - 6)


def scale_of(curve: CurveDrawing, head_rows: int) -> Scale:
    """Return the scale of *curve*, leaving *head_rows* lines of labels above the plot."""
    low, high = _weight_range(curve)
    ticks = weight_ticks(low, high, curve.unit) if _weights(curve) else ()
    widest = max((text_width(text, FONT) for _, text in ticks), default=0.0)
    first, last = day_range(curve)
    return Scale(
        plot=Box(max(widest + 8, 16.0), 8 + ROW * head_rows, WIDTH - _LETTER_ROOM, HEIGHT - 2 * ROW + 6),
        first_day=first,
        last_day=last,
        low=low,
        high=high,
        day_ticks=day_ticks(first, last),
        weight_ticks=ticks,
    )


def day_range(curve: CurveDrawing) -> tuple[float, float]:
    """Return the first and last day shown: from the cut, over all that is known or expected."""
    days = [w.day for bar in curve.bars for w in bar.weighings]
    days += [mark.day for mark in curve.day_marks] + [point.day for point in curve.forecast]
    if curve.ready_window:
        days += [curve.ready_window.first_day, curve.ready_window.last_day]
    return min([0.0, *days]), max([7.0, *days]) * 1.02


def _weights(curve: CurveDrawing) -> list[float]:
    """Return the weights the plot must show; the doubtful only when there are no others."""
    known = [w.weight_g for bar in curve.bars for w in bar.known]
    known += [weight for line in mean_lines(curve.bars) for _, weight in line]
    known += [g for point in curve.forecast for g in (point.low_g, point.high_g)]
    known = known or [w.weight_g for bar in curve.bars for w in bar.weighings]
    return [shown(weight_g, curve.unit) for weight_g in known]


def _weight_range(curve: CurveDrawing) -> tuple[float, float]:
    weights = _weights(curve) or [0.0, 1.0]
    low, high = min(weights), max(weights)
    reach = _DOUBT_REACH * (high - low)
    doubtful = [shown(w.weight_g, curve.unit) for bar in curve.bars for w in bar.weighings if w.doubt]
    near = [weight for weight in doubtful if low - reach <= weight <= high + reach]
    low, high = min([low, *near]), max([high, *near])
    # One weight, or all the same: a line in the middle of one part in a hundred.
    pad = 0.08 * (high - low) or 0.005 * abs(high) or 0.5
    return low - pad, high + pad


def weight_ticks(low: float, high: float, unit: str) -> tuple[tuple[float, str], ...]:
    """Return round weights between two, with what is written beside them."""
    raw = (high - low) / 4
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(factor * power for factor in (1, 2, 5, 10) if factor * power >= raw * 0.999)
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    first = math.ceil(low / step)
    return tuple(
        (number * step, f"{number * step:.{places}f}\u00a0{unit}") for number in range(first, math.floor(high / step) + 1)
    )


def day_ticks(first: float, last: float) -> tuple[int, ...]:
    """Return round days between two."""
    span = last - first
    step = next((s for s in _DAY_STEPS if span / s <= _MOST_DAY_TICKS), None)
    if step is None:
        step = 364 * math.ceil(span / 364 / _MOST_DAY_TICKS)
    return tuple(range(math.ceil(first / step) * step, math.floor(last) + 1, step))
