"""A cell into a day, or a day with a time: ISO 8601, or day and month in the order a person said."""

import re
from datetime import date, datetime, time

from curehouse.common.tables import Cell

# What spreadsheets put between figures besides a plain space.
SPACES = {**dict.fromkeys(map(ord, "\u00a0\u202f\u2009"), " "), ord("’"): "'"}
_ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ](\d{1,2}:\d{2}(?::\d{2})?))?", re.ASCII)
_DAY = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4})(?:,?\s+(\d{1,2}:\d{2}(?::\d{2})?))?", re.ASCII)
_FIRST_YEAR, _LAST_YEAR = 1990, 2100


class CellFault(ValueError):
    """Why a cell cannot be taken, in words that go on after what stands in it."""


def read_moment(cell: Cell, date_order: str) -> date | datetime:
    """Return the day in *cell*, with its time where it has one; raises :class:`CellFault`."""
    if isinstance(cell, date):
        return _within(cell)
    if not isinstance(cell, str):
        raise CellFault("is no date: type it like 2026-03-09")
    text = cell.translate(SPACES).strip()
    iso = _ISO.fullmatch(text)
    if iso is not None:
        return _made(int(iso[1]), int(iso[2]), int(iso[3]), iso[4])
    local = _DAY.fullmatch(text)
    if local is None:
        raise CellFault("is no date with a year of four figures: type it like 2026-03-09")
    if not date_order:
        raise CellFault("can be read day first or month first: say which")
    first, second = int(local[1]), int(local[3])
    day, month = (first, second) if date_order == "dmy" else (second, first)
    return _made(int(local[4]), month, day, local[5])


def is_in_some_order(text: str) -> bool:
    """Return whether *text* is a day with its year last, by which day and month may stand either way."""
    return bool(_DAY.fullmatch(text.translate(SPACES).strip()))


def _made(year: int, month: int, day: int, clock: str | None) -> date | datetime:
    try:
        on = date(year, month, day)
        if clock is None:
            return _within(on)
        hours, *rest = clock.split(":")
        at = time(int(hours), int(rest[0]), int(rest[1]) if len(rest) > 1 else 0)
    except ValueError as error:
        raise CellFault("is no day of the calendar: check day, month and year, and which comes first") from error
    return _within(datetime.combine(on, at))


def _within(when: date) -> date:
    if not _FIRST_YEAR <= when.year <= _LAST_YEAR:
        raise CellFault(f"lies outside the years {_FIRST_YEAR} to {_LAST_YEAR}: check its year")
    return when
