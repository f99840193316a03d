"""The liquid of a formula: what stands in front with the lye, what goes in at trace, and how much of it is water."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from django.utils.html import format_html
from django.utils.safestring import SafeString

from curehouse.web.drawing.palette import INK, MUTED, PAPER, SANS, WATER, WATER_INK
from curehouse.web.drawing.svg import element, num, shorten, text_width

# As wide as a phone shows it, and as a desk does.
NARROW, WIDE = 376.0, 640.0
_MARGIN = 1.0
_HEAD, _BODY, _FOOT = 24.0, 56.0, 24.0
_HEIGHT = _HEAD + _BODY + _FOOT
_FONT = 13.0
# Between what is in front and what goes in at trace.
_GAP = 8.0


@dataclass(frozen=True, slots=True)
class Part:
    """One liquid: its mass in grams, shown as ``shown``, and the part of it that is water (0-1)."""

    name: str
    mass_g: float
    shown: str
    water: float


@dataclass(frozen=True, slots=True)
class LiquidSplit:
    """The liquids in front and at trace with their sums in words, and what all of it comes to."""

    front: tuple[Part, ...]
    trace: tuple[Part, ...]
    front_shown: str
    trace_shown: str
    total: str
    key: str = "liquid-split"


def draw_liquid_split(split: LiquidSplit, *, width: float = NARROW) -> SafeString:
    """Return *split* as one <svg> of *width*: each liquid as wide as it is heavy, filled as high as it is water."""
    return element(
        "svg",
        element("title", "The liquid, in front and at trace", id=f"{split.key}-title"),
        element("desc", _sentence(split), id=f"{split.key}-desc"),
        *_parts(split, width),
        *_words(split, width),
        xmlns="http://www.w3.org/2000/svg",
        class_="liquid-split wide" if width > NARROW else "liquid-split narrow",
        view_box=f"0 0 {num(width)} {num(_HEIGHT)}",
        width="100%",
        role="img",
        aria_labelledby=f"{split.key}-title {split.key}-desc",
        font_family=SANS,
        font_size=_FONT,
    )


def draw_for_any_screen(split: LiquidSplit) -> SafeString:
    """Return *split* drawn for a phone and for a desk; the style sheet shows one of them."""
    wide = draw_liquid_split(replace(split, key=f"{split.key}-wide"), width=WIDE)
    return format_html("{}{}", draw_liquid_split(split), wide)


def _sentence(split: LiquidSplit) -> str:
    said = []
    for place, parts, shown in (("In front", split.front, split.front_shown), ("At trace", split.trace, split.trace_shown)):
        if parts:
            named = ", ".join(f"{part.name} {part.shown} ({round(part.water * 100)} % water)" for part in parts)
            said.append(f"{place} {shown}: {named}.")
    return " ".join([*said, f"Together {split.total}."])


def _room(split: LiquidSplit, width: float) -> float:
    """Return how wide a gram is."""
    mass_g = sum(part.mass_g for part in (*split.front, *split.trace))
    gap = _GAP if split.front and split.trace else 0.0
    return (width - 2 * _MARGIN - gap) / mass_g if mass_g else 0.0


def _parts(split: LiquidSplit, whole: float) -> Iterator[SafeString]:
    wide, left = _room(split, whole), _MARGIN
    for parts in (split.front, split.trace):
        for part in parts:
            width = part.mass_g * wide
            yield from _part(part, left, width)
            left += width
        if parts is split.front and split.front and split.trace:
            left += _GAP


def _part(part: Part, left: float, width: float) -> Iterator[SafeString]:
    filled = _BODY * min(max(part.water, 0.0), 1.0)
    yield element("rect", x=left, y=_HEAD, width=width, height=_BODY, fill=PAPER, class_="bar-body")
    yield element(
        "rect", x=left, y=_HEAD + _BODY - filled, width=width, height=filled, fill=WATER, class_="bar-water"
    )  # fmt: skip
    yield element(
        "rect", x=left, y=_HEAD, width=width, height=_BODY, fill="none", stroke=WATER_INK, class_="bar-water-line"
    )  # fmt: skip
    for text, down in ((part.name, 22.0), (part.shown, 40.0)):
        room = width - 8
        if room < text_width("mm", _FONT) or (text is part.shown and text_width(text, _FONT) > room):
            continue
        yield element("text", shorten(text, room, _FONT), x=left + 4, y=_HEAD + down, fill=INK, class_="split-ink")


def _words(split: LiquidSplit, width: float) -> Iterator[SafeString]:
    if split.front:
        yield element("text", f"In front: {split.front_shown}", x=_MARGIN, y=16.0, fill=MUTED, class_="split-muted")
    if split.trace:
        yield element(
            "text",
            f"At trace: {split.trace_shown}",
            x=width - _MARGIN,
            y=16.0,
            text_anchor="end",
            fill=MUTED,
            class_="split-muted",
        )
    foot = _HEAD + _BODY + 18.0
    yield element("text", f"Together {split.total}; the blue is water", x=_MARGIN, y=foot, fill=MUTED, class_="split-muted")
