"""The row of bars above the round: which of a batch's bars is on the scale now."""

from dataclasses import dataclass

from django.utils.safestring import SafeString

from curehouse.web.drawing.bar_shape import Row, draw_bars, fit_row, sample_places
from curehouse.web.drawing.palette import INK, MUTED, SANS, WOOD
from curehouse.web.drawing.svg import element, join, num

_WIDTH = 376.0
_HEAD = 22.0
_BAR_HEIGHT = 48.0
_BOARD = 5.0
_MARGIN = 8.0
_FONT = 13.0
_WIDEST = 28.0
_HEIGHT = _HEAD + _BAR_HEIGHT + _BOARD


@dataclass(frozen=True, slots=True)
class BarRow:
    """A batch's bars, its sample bars by letter, the `current` one and those already `weighed`."""

    batch: str
    bars: int
    letters: tuple[str, ...]
    current: str
    water_left: float | None = None
    weighed: frozenset[str] = frozenset()
    key: str = "bar-row"


def draw_bar_row(row: BarRow) -> SafeString:
    """Return *row* as one <svg>: every bar a block, sample bars lettered, the current one bold."""
    bars = max(row.bars, len(row.letters))
    places = sample_places(bars, len(row.letters)) if row.letters else ()
    stand = fit_row(
        bars, left=_MARGIN, foot=_HEAD + _BAR_HEIGHT, width=_WIDTH - 2 * _MARGIN, height=_BAR_HEIGHT, widest=_WIDEST
    )
    return element(
        "svg",
        element("title", _sentence(row), id=f"{row.key}-title"),
        element(
            "rect",
            x=0,
            y=_HEAD + _BAR_HEIGHT,
            width=_WIDTH,
            height=_BOARD,
            class_="rack-wood",
            fill=WOOD,
        ),
        draw_bars(stand, water_left=row.water_left),
        *(_sample(row, letter, place, stand) for letter, place in zip(row.letters, places, strict=True)),
        xmlns="http://www.w3.org/2000/svg",
        class_="bar-row",
        view_box=f"0 0 {num(_WIDTH)} {num(_HEIGHT)}",
        width="100%",
        role="img",
        aria_labelledby=f"{row.key}-title",
        font_family=SANS,
        font_size=_FONT,
    )


def _sentence(row: BarRow) -> str:
    weighed = [letter for letter in row.letters if letter in row.weighed]
    done = f", already weighed: {', '.join(weighed)}" if weighed else ""
    bars = "1 bar" if row.bars == 1 else f"{row.bars} bars"
    return f"{row.batch}: {bars}, now bar {row.current}{done}"


def _sample(row: BarRow, letter: str, place: int, stand: Row) -> SafeString:
    block = place // stand.bars_each
    x, y, width, height = next(stand.blocks_from(block, 1))
    current = letter == row.current
    top = stand.foot - stand.height
    text = element(
        "text",
        f"{letter}\u00a0✓" if letter in row.weighed else letter,
        x=x + width / 2,
        y=top - 9,
        text_anchor="middle",
        class_="bar-letter bar-now" if current else "bar-letter",
        fill=INK if current else MUTED,
        font_weight="bold" if current else None,
    )
    notch = element(
        "path", d=f"M{num(x + width / 2)} {num(top - 1)}v-5", class_="bar-notch", stroke=INK, stroke_width=2, fill="none"
    )
    frame = element(
        "rect", x=x, y=y, width=width, height=height, rx=2, class_="bar-current", fill="none", stroke=INK, stroke_width=3
    )
    return join((text, notch, frame) if current else (text, notch))
