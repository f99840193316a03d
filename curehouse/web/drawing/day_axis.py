"""What drawings of days to come have in common: the dates beneath, and what the cursor says of a day."""

from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from typing import Protocol

from django.utils.safestring import SafeString

from curehouse.web.drawing.curve_scale import FONT, WIDTH, Scale
from curehouse.web.drawing.svg import element, text_width


class Said(Protocol):
    """A day, counted from today, and what the cursor says of it; nothing of a day that it passes over."""

    @property
    def day(self) -> int:
        """The day."""
        ...

    @property
    def says(self) -> str:
        """What is said of it."""
        ...


def draw_dates(scale: Scale, today: date, height: float) -> Iterator[SafeString]:
    """Yield the dates beneath, as many as there is room for."""
    free_from = 0.0
    for ahead in scale.day_ticks:
        day = today + timedelta(days=ahead)
        text = f"{day.day}\u00a0{day:%b}" if scale.last_day < 300 else f"{day:%b}\u00a0{day.year}"
        half = text_width(text, FONT) / 2
        middle = min(max(scale.x(ahead), half), WIDTH - half)
        if middle - half >= free_from:
            free_from = middle + half + 6
            yield element("text", text, x=middle, y=height - 4, text_anchor="middle")


def draw_stops(days: Iterable[Said], scale: Scale) -> Iterator[SafeString]:
    """Yield what the cursor says; it starts on the first, which is today."""
    for one in days:
        if one.says:
            foretold = {"data_foretold": ""} if one.day else {}
            yield element("g", class_="curve-stop", data_x=scale.x(one.day), data_say=one.says, **foretold)
