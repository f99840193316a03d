"""Fields of requests: what they take, and the sentences with which they refuse."""

import re
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from rest_framework import serializers

# Beyond these a moment cannot be told in every time zone, or is a slip of the finger.
_FIRST_YEAR, _LAST_YEAR = 1970, 2199
LARGEST_KEY = 2**63 - 1
_PLAIN = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]{1,3})?", re.ASCII)


class FigureField(serializers.DecimalField):
    """A decimal number, as a number or as a string with a point."""

    default_error_messages = {
        "invalid": "Send a plain number, such as 118.6 or “118.6”.",
        "max_digits": "This number has too many digits: {max_digits} are the most.",
        "max_decimal_places": "This number has more than {max_decimal_places} decimal places: round it.",
        "max_whole_digits": "This number is too large: {max_whole_digits} digits before the point are the most.",
        "max_string_length": "This number is too long.",
    }

    def to_internal_value(self, data: Any) -> Decimal:
        """Return the number; text must be plain figures."""
        if isinstance(data, bool) or not isinstance(data, (str, int, float, Decimal)):
            self.fail("invalid")
        text = str(data).strip()
        if len(text) > self.MAX_STRING_LENGTH:
            self.fail("max_string_length")
        if not _PLAIN.fullmatch(text):
            self.fail("invalid")
        return super().to_internal_value(text)


class GramsField(FigureField):
    """A mass in grams, to the milligram."""

    def __init__(self, *, max_digits: int = 10, **kwargs: Any) -> None:
        super().__init__(max_digits=max_digits, decimal_places=3, **kwargs)


class TypedFigureField(serializers.CharField):
    """A figure as somebody typed it: a number, or a string with a point or a comma."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=30, **kwargs)

    def to_internal_value(self, data: Any) -> str:
        """Return the text of the figure; reading it is the house's business."""
        return super().to_internal_value(str(data) if isinstance(data, Decimal) else data)


class MomentField(serializers.DateTimeField):
    """A moment: date, time and offset from UTC (RFC 3339)."""

    default_error_messages = {
        "invalid": "Send a moment as date, time and offset, such as 2026-03-10T09:00:00+01:00.",
        "naive": "This moment lacks its offset from UTC: send it like 2026-03-10T09:00:00+01:00 or …T08:00:00Z.",
        "date": "Send a moment with its time and offset, such as 2026-03-10T09:00:00+01:00, not only a date.",
        "overflow": "This moment is out of range: check the year.",
    }

    def enforce_timezone(self, value: datetime) -> datetime:
        """Return *value* in UTC; without an offset it could be any of many moments."""
        if value.tzinfo is None:
            self.fail("naive")
        if not _FIRST_YEAR <= value.year <= _LAST_YEAR:
            self.fail("overflow")
        return value.astimezone(UTC)


class KeyField(serializers.IntegerField):
    """The id of a thing in this workshop."""

    default_error_messages = {"invalid": "Send the id, a whole number."}

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(min_value=1, max_value=LARGEST_KEY, **kwargs)


class CountField(serializers.IntegerField):
    """A whole number of things; what is too many is the house's business."""

    default_error_messages = {"invalid": "Send a whole number."}

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(min_value=-(2**31), max_value=2**31 - 1, **kwargs)
