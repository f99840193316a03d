"""Finding a place for a label: beside its point, inside its frame, over no other label."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from curehouse.web.drawing.svg import Box, text_width

Anchor = Literal["start", "end"]


@dataclass(frozen=True, slots=True)
class Label:
    """A placed text: its anchor point, which end of it stands there, and the room it takes."""

    text: str
    x: float
    y: float
    anchor: Anchor
    box: Box


def label_at(text: str, x: float, y: float, anchor: Anchor, size: float) -> Label:
    """Return *text* with its baseline at *y*, running from *x* (start) or up to it (end)."""
    width = text_width(text, size)
    left = x if anchor == "start" else x - width
    return Label(text, x, y, anchor, Box(left, y - 0.8 * size, left + width, y + 0.25 * size))


def beside(
    text: str,
    *,
    x: float,
    y: float,
    size: float,
    gap: float,
    frame: Box,
    taken: Iterable[Box],
    points: Iterable[Box],
) -> Label | None:
    """Return *text* placed beside (x, y), or None where no place is free.

    The right side comes before the left, the same height before above and below. A place must
    lie in *frame* and off every *taken* box; the one over the fewest *points* wins.
    """
    taken, points = tuple(taken), tuple(points)
    middle = y + 0.3 * size
    rise = size + 3
    places = [
        label_at(text, x + side * gap, middle + lift, "start" if side > 0 else "end", size)
        for lift in (0.0, -rise, rise, -2 * rise, 2 * rise)
        for side in (1, -1)
    ]
    free = [place for place in places if place.box.within(frame) and not any(place.box.overlaps(box) for box in taken)]
    return min(free, key=lambda place: sum(place.box.overlaps(box) for box in points), default=None)


def spread(heights: list[float], gap: float, top: float, bottom: float) -> list[float] | None:
    """Return *heights* moved apart by at least *gap* within top..bottom, or None if too many.

    The order of the heights is kept; each stays as near its own height as the others allow.
    """
    if (len(heights) - 1) * gap > bottom - top:
        return None
    order = sorted(range(len(heights)), key=heights.__getitem__)
    placed = dict.fromkeys(order, 0.0)
    floor = top
    for rank in order:
        placed[rank] = max(heights[rank], floor)
        floor = placed[rank] + gap
    ceiling = bottom
    for rank in reversed(order):
        placed[rank] = min(placed[rank], ceiling)
        ceiling = placed[rank] - gap
    return [placed[rank] for rank in range(len(heights))]
