"""Counts and figures in words."""

import re

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from curehouse.core.cure.words import number

UNKNOWN = "–"
_FIGURE = re.compile(r"(−?\d+(?:\.\d+)?[ \u00a0]%)")


def count(how_many: int, one: str, many: str = "") -> str:
    """Return ``1 bar`` or ``3 bars``."""
    return f"{how_many} {one if how_many == 1 else many or one + 's'}"


def taught_words(cures: int) -> str:
    """Return what taught what is expected: so many cures of the workshop, or before the first what is usual."""
    return f"what {count(cures, 'cure')} of this workshop taught" if cures else "what is usual of such bars"


def without_place(loose: int, bars: int) -> str:
    """Return ``24 bars have no place``, or ``6 of 24 bars have no place``."""
    some = count(bars, "bar") if loose == bars else f"{loose} of {count(bars, 'bar')}"
    return f"{some} {'has' if loose == 1 else 'have'} no place"


def percent(value: float | None) -> str:
    """Return a percentage as the verdicts write it, or a dash where it is not known."""
    return UNKNOWN if value is None else f"{number(value)}\u00a0%"


def with_figures(sentence: str) -> SafeString:
    """Return a sentence whose percentages stand out."""
    parts = _FIGURE.split(sentence)
    # A figure and its % stay on one line.
    marked = (
        format_html("<strong>{}</strong>" if number_of % 2 else "{}", part.replace(" %", "\u00a0%"))
        for number_of, part in enumerate(parts)
    )
    return format_html_join("", "{}", ((part,) for part in marked))
