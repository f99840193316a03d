"""Small words for writing SVG: elements with escaped attributes, short numbers, fitted text."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.html import conditional_escape
from django.utils.safestring import SafeString, mark_safe

# DejaVu Sans, the widest usual sans, measured in Chromium: 0.50 to 0.63 em a character over words.
EM_PER_CHARACTER = 0.62


@dataclass(frozen=True, slots=True)
class Box:
    """An upright rectangle in drawing units."""

    left: float
    top: float
    right: float
    bottom: float

    def overlaps(self, other: "Box") -> bool:
        return self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom

    def within(self, other: "Box") -> bool:
        return self.left >= other.left and self.right <= other.right and self.top >= other.top and self.bottom <= other.bottom


def num(value: float) -> str:
    """Return *value* as a short coordinate: one decimal, no trailing zero, no minus zero."""
    text = f"{value:.1f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def element(tag: str, *children: str, **attributes: str | float | None) -> SafeString:
    """Return an element; attribute names lose a trailing underscore and turn _ into -.

    Children and attribute values are escaped unless they are already safe; None leaves an
    attribute out; floats are shortened.
    """
    head = "".join(f' {_name(name)}="{_value(value)}"' for name, value in attributes.items() if value is not None)
    # Tag and names are ours, never data; all else was escaped on its way here.
    if not children:
        return mark_safe(f"<{tag}{head}/>")  # noqa: S308
    return mark_safe(f"<{tag}{head}>{join(children)}</{tag}>")  # noqa: S308


def _name(name: str) -> str:
    return "viewBox" if name == "view_box" else name.rstrip("_").replace("_", "-")


def _value(value: str | float) -> str:
    return num(value) if isinstance(value, float) else conditional_escape(str(value))


def join(parts: Iterable[str]) -> SafeString:
    """Return *parts* one after the other, escaped where they are not safe."""
    return mark_safe("".join(conditional_escape(part) for part in parts))  # noqa: S308


def text_width(text: str, size: float) -> float:
    """Return a generous estimate of how wide *text* runs at font *size*."""
    return len(text) * size * EM_PER_CHARACTER


def _characters(width: float, size: float) -> int:
    # A text must fit into exactly its own width, whatever the last bit of the division says.
    return int(width / (size * EM_PER_CHARACTER) + 1e-6)


def shorten(text: str, width: float, size: float) -> str:
    """Return *text*, ended with an ellipsis if it would run wider than *width*."""
    room = _characters(width, size)
    if len(text) <= room:
        return text
    return text[: max(room - 1, 1)].rstrip() + "…"


def wrap(text: str, width: float, size: float, lines: int = 2) -> tuple[str, ...]:
    """Return *text* on at most *lines* lines of *width*; the last one is shortened."""
    room = max(_characters(width, size), 1)
    rows: list[str] = []
    words = text.split()
    while words and len(rows) < lines - 1:
        row = words.pop(0)
        while words and len(row) + 1 + len(words[0]) <= room:
            row = f"{row} {words.pop(0)}"
        rows.append(shorten(row, width, size))
    if words:
        rows.append(shorten(" ".join(words), width, size))
    return tuple(rows)
