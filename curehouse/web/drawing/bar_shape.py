"""Bars of soap on a board: outlined blocks, their water line, and the notch of a sample bar."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from django.utils.safestring import SafeString

from curehouse.web.drawing.palette import INK, MUTED, PAPER, WATER, WATER_INK
from curehouse.web.drawing.svg import element, join, num

_WIDEST_PITCH = 14.0
_NARROWEST_PITCH = 4.0
_ROOMY_PITCH = 7.0
_MOST_ROWS = 4
_ROW_GAP = 2.0

Rectangle = tuple[float, float, float, float]  # left, top, width, height


@dataclass(frozen=True, slots=True)
class Row:
    """Where a number of blocks stand: from `left`, feet on `foot`, `height` for all rows.

    `bars_each` is above 1 only where there are more bars than can be told apart; a block then
    stands for that many.
    """

    left: float
    foot: float
    height: float
    pitch: float
    columns: int
    rows: int
    blocks: int
    bars_each: int

    @property
    def width(self) -> float:
        return self.columns * self.pitch

    def blocks_from(self, first: int, count: int) -> Iterator[Rectangle]:
        """Yield left, top, width and height of *count* blocks, the front row filled first."""
        tall = (self.height - _ROW_GAP * (self.rows - 1)) / self.rows
        gap = min(0.16 * self.pitch, 2.0)
        for number in range(first, min(first + count, self.blocks)):
            row, column = divmod(number, self.columns)
            top = self.foot - tall - row * (tall + _ROW_GAP)
            yield self.left + column * self.pitch + gap / 2, top, self.pitch - gap, tall


def fit_row(
    bars: int,
    *,
    left: float,
    foot: float,
    width: float,
    height: float,
    widest: float = _WIDEST_PITCH,
) -> Row:
    """Return how *bars* fit on *width*: side by side, else in up to four rows one behind another."""
    bars_each = 1
    columns = max(int(width / _NARROWEST_PITCH), 1)
    if bars > columns * _MOST_ROWS:
        bars_each = math.ceil(bars / (columns * _MOST_ROWS))
    blocks = math.ceil(bars / bars_each)
    rows = max(math.ceil(blocks / columns), 1)
    columns = max(math.ceil(blocks / rows), 1)
    return Row(
        left=left,
        foot=foot,
        height=height,
        pitch=min(width / columns, widest),
        columns=columns,
        rows=rows,
        blocks=blocks,
        bars_each=bars_each,
    )


def sample_places(bars: int, samples: int) -> tuple[int, ...]:
    """Return which of *bars* are drawn as sample bars: *samples* of them, evenly spread."""
    samples = min(samples, bars)
    return tuple(int((number + 0.5) * bars / samples) for number in range(samples))


def _rectangles(boxes: list[Rectangle]) -> str:
    return "".join(f"M{num(x)} {num(y)}h{num(width)}v{num(height)}h{num(-width)}z" for x, y, width, height in boxes)


def draw_bars(row: Row, *, water_left: float | None, samples: tuple[int, ...] = ()) -> SafeString:
    """Return the blocks of *row*, filled up to *water_left* (0..1; None draws a dashed line)."""
    boxes = list(row.blocks_from(0, row.blocks))
    return join(
        (
            element("path", d=_rectangles(boxes), class_="bar-body", fill=PAPER),
            *_water(boxes, water_left),
            element(
                "path",
                d=_rectangles(boxes),
                class_="bar-outline",
                fill="none",
                stroke=MUTED,
                stroke_width="1" if row.pitch >= _ROOMY_PITCH else "0.7",
                stroke_linejoin="round",
                data_bars=row.blocks,
            ),
            *_notches(row, boxes, samples),
        )
    )


def _water(boxes: list[Rectangle], water_left: float | None) -> Iterator[SafeString]:
    if water_left is None:
        yield element("path", d=_levels(boxes, 0.5), class_="bar-unknown", fill="none", stroke=MUTED, stroke_dasharray="2 2")
    elif water_left > 0:
        share = min(water_left, 1.0)
        filled = [(x, y + h * (1 - share), w, h * share) for x, y, w, h in boxes]
        yield element("path", d=_rectangles(filled), class_="bar-water", fill=WATER)
        yield element("path", d=_levels(boxes, share), class_="bar-water-line", fill="none", stroke=WATER_INK)


def _levels(boxes: list[Rectangle], share: float) -> str:
    return "".join(f"M{num(x)} {num(y + h * (1 - share))}h{num(w)}" for x, y, w, h in boxes)


def _notches(row: Row, boxes: list[Rectangle], samples: tuple[int, ...]) -> Iterator[SafeString]:
    """Yield the sample bars' notches, all above the hindmost row so that none is hidden."""
    notched = [boxes[place // row.bars_each] for place in samples]
    if notched:
        top = num(row.foot - row.height - 2)
        yield element(
            "path",
            d="".join(f"M{num(x + w / 2)} {top}v-5" for x, _, w, _ in notched),
            class_="bar-notch",
            fill="none",
            stroke=INK,
            stroke_width=2,
            data_samples=len(notched),
        )


def draw_free(row: Row, first: int) -> SafeString:
    """Return the places of *row* from *first* on as faint outlines."""
    boxes = list(row.blocks_from(first, row.blocks))
    return element(
        "path", d=_rectangles(boxes), class_="bar-free", fill="none", stroke=MUTED, stroke_opacity="0.3", data_free=len(boxes)
    )
