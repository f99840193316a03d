"""How often a workshop turns its bars, and for how long."""

from typing import Any

from curehouse.common.errors import Invalid

MOST_TURN_EVERY, MOST_TURN_FOR = 28, 365


def clean_turn_every(value: Any) -> int | None:
    """Return every how many days bars are turned; None: nobody is reminded."""
    if value is None or _is_between(value, MOST_TURN_EVERY):
        return value
    said = "How often bars are turned is a whole number of days from 1 to 28, or is left empty."
    raise Invalid("turning", said, field="turn_every_days")


def clean_turn_for(value: Any) -> int:
    """Return in the first how many days of a cure bars are turned."""
    if _is_between(value, MOST_TURN_FOR):
        return value
    raise Invalid("turning", "For how long bars are turned is a whole number of days from 1 to 365.", field="turn_for_days")


def _is_between(value: Any, most: int) -> bool:
    return isinstance(value, int) and 1 <= value <= most
