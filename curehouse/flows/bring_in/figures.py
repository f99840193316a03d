"""Figures into numbers: what groups their thousands, and which mark stands before their decimals."""

import re
from collections.abc import Iterable
from decimal import Decimal

from curehouse.common.tables import Cell
from curehouse.flows.bring_in.days import SPACES, CellFault

_AMOUNT = re.compile(r"([+-]?[0-9.,' ]*[0-9][0-9.,]*)\s*([^\W\d_]+\.?|%)?")
_LONGEST_FIGURE = 30
_LARGEST = Decimal(10) ** 9


def decimal_shown(cells: Iterable[Cell]) -> str:
    """Return the decimal mark that the figures of a file show beyond doubt, or nothing."""
    shown = set()
    for cell in cells:
        if not isinstance(cell, str) or len(cell) > _LONGEST_FIGURE:
            continue
        match = _AMOUNT.fullmatch(cell.translate(SPACES).strip())
        if match is None:
            continue
        marks = [one for one in match[1] if one in ".,"]
        if len(set(marks)) == 2:
            shown.add(marks[-1])
        elif len(marks) == 1 and not re.search(r"^[+-]?[1-9]\d{0,2}[.,]\d{3}$", match[1]):
            shown.add(marks[0])
        elif len(marks) > 1:
            shown.add("." if marks[0] == "," else ",")
    return shown.pop() if len(shown) == 1 else ""


def parted(text: str) -> tuple[str, str] | None:
    """Return a figure and the word or sign behind it, or None where *text* is something else."""
    text = text.translate(SPACES).strip()
    match = _AMOUNT.fullmatch(text) if len(text) <= _LONGEST_FIGURE else None
    return None if match is None else (match[1], (match[2] or "").rstrip(".").lower())


def bounded(number: Decimal) -> Decimal:
    """Return a number that is none of those only a mistake makes; raises :class:`CellFault`."""
    if not number.is_finite() or abs(number) >= _LARGEST:
        raise CellFault("is far too large: check the figure")
    return number


def number_in(text: str, decimal: str) -> Decimal:
    """Return the number that a figure says; *decimal* is the mark that is meant, or empty where none is known."""
    figure = _without_gaps(text)
    marks = {one for one in figure if one in ".,"}
    if not marks:
        return Decimal(figure)
    mark = decimal
    if not mark:
        if len(marks) == 2:
            mark = figure[max(figure.rfind("."), figure.rfind(","))]
        elif figure.count(next(iter(marks))) > 1:
            mark = "." if marks == {","} else ","
        elif re.fullmatch(r"[+-]?[1-9]\d{0,2}[.,]\d{3}", figure):
            raise CellFault("can be read two ways: say whether decimals stand behind a point or a comma")
        else:
            mark = next(iter(marks))
    thousands = "," if mark == "." else "."
    whole, _, part = figure.partition(mark)
    grouped = re.fullmatch(rf"[+-]?(\d+|\d{{1,3}}(?:{re.escape(thousands)}\d{{3}})+)?", whole)
    if grouped is None or (part and not part.isdecimal()) or not (whole.strip("+-") or part):
        raise CellFault(f"is no number with decimals behind a {'point' if mark == '.' else 'comma'}: check the figure")
    return Decimal(f"{whole.replace(thousands, '') or '0'}.{part or '0'}")


def _without_gaps(text: str) -> str:
    """Return a figure without what groups its thousands; anything else between figures makes it no number."""
    sign, rest = (text[0], text[1:].strip()) if text[:1] in ("+", "-") else ("", text.strip())
    gaps = {one for one in rest if one in " '"}
    if not gaps:
        return f"{sign}{rest}"
    whole = re.match(r"[0-9 ']*", rest)[0]
    gap = gaps.pop()
    if gaps or gap in rest[len(whole) :] or not re.fullmatch(rf"\d{{1,3}}(?:{gap}\d{{3}})+", whole):
        raise CellFault("has a gap between its figures: write them together, or in groups of three, like 12 500")
    return f"{sign}{rest.replace(gap, '')}"
