"""Fields of requests: what they take, and the sentences with which they refuse."""

import json
import re
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any, ClassVar

from django.core.validators import ProhibitNullCharactersValidator
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.validators import ProhibitSurrogateCharactersValidator

from curehouse.common.tables import MOST_CHARACTERS, MOST_COLUMNS

# Beyond these a moment cannot be told in every time zone, or is a slip of the finger.
_FIRST_YEAR, _LAST_YEAR = 1970, 2199
LARGEST_KEY = 2**63 - 1
NO_NULL_CHARACTER = "This text holds a character that cannot be written (U+0000): leave it out."
_PLAIN = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]{1,3})?", re.ASCII)


class Worded:
    """Stands before the framework's field, and words what is missing; each field words the rest of its own."""

    default_error_messages: ClassVar[dict[str, str]] = {
        "required": "This field is missing: send it.",
        "null": "Send a value here instead of null.",
    }


class TextField(Worded, serializers.CharField):
    """A text."""

    default_error_messages = {
        "invalid": "Send a text.",
        "blank": "This text is empty: write something.",
        "max_length": "This text is too long: {max_length} characters are the most.",
    }

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        for validator in self.validators:
            if isinstance(validator, ProhibitNullCharactersValidator):
                validator.message = NO_NULL_CHARACTER
            elif isinstance(validator, ProhibitSurrogateCharactersValidator):
                validator.message = "This text holds half of a character: send it whole."


class LyeConfirmedField(TextField):
    """The ``confirm`` of what was read: which poured versions ask for other lye from now on."""

    def __init__(self, **kwargs: Any) -> None:
        told = "The `confirm` of a 409 with `poured_lye_moves`: which poured versions ask for other lye then was read."
        super().__init__(**{"max_length": 40, "required": False, "allow_blank": True, "help_text": told, **kwargs})


class ChoiceField(Worded, serializers.ChoiceField):
    """One of a few words."""

    def __init__(self, choices: Any, **kwargs: Any) -> None:
        super().__init__(choices, **kwargs)
        self.error_messages["invalid_choice"] = f"Send one of: {', '.join(str(one) for one in self.choices)}."


class FlagField(Worded, serializers.BooleanField):
    """Yes or no."""

    default_error_messages = {"invalid": "Send true or false."}


class ClientKeyField(Worded, serializers.UUIDField):
    """An id made by the client."""

    default_error_messages = {"invalid": "Send a UUID, such as 3f2b8c1e-9d4a-4c7e-8f51-0a6b7c2d9e10."}


class FigureField(Worded, serializers.DecimalField):
    """A decimal number, as a number or as a string with a point."""

    default_error_messages = {
        "invalid": "Send a plain number, such as 118.6 or “118.6”.",
        "max_digits": "This number has too many digits: {max_digits} are the most.",
        "max_decimal_places": "This number has more than {max_decimal_places} decimal places: round it.",
        "max_whole_digits": "This number is too large: {max_whole_digits} digits before the point are the most.",
        "min_value": "This number is too small: send {min_value} or more.",
        "max_value": "This number is too large: send {max_value} or less.",
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


class ExactField(serializers.DecimalField):
    """A decimal number with as many places as it has, three at the least."""

    def to_representation(self, value: Decimal) -> str:
        """Return the number without the zeros it is stored with."""
        places = max(3, -int(value.normalize().as_tuple().exponent))
        return f"{value:.{places}f}"


class TypedFigureField(TextField):
    """A figure as somebody typed it: a number, or a string with a point or a comma."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_length=30, **kwargs)

    def to_internal_value(self, data: Any) -> str:
        """Return the text of the figure; reading it is the house's business."""
        return super().to_internal_value(str(data) if isinstance(data, Decimal) else data)


class MomentField(Worded, serializers.DateTimeField):
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


class DayField(Worded, serializers.DateField):
    """A day of the workshop's calendar."""

    default_error_messages = {
        "invalid": "Send a day, such as 2026-03-10.",
        "datetime": "Send a day without a time, such as 2026-03-10.",
    }


class AmountField(FigureField):
    """Grams to the milligram, or whole pieces: as the material is measured."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_digits=13, decimal_places=3, **kwargs)


class FileField(Worded, serializers.FileField):
    """A file, as a part of multipart/form-data."""

    default_error_messages = {
        "invalid": "Send a file, as a part of multipart/form-data that has a file name.",
        "no_name": "This file has no name: send it with one.",
        "empty": "This file is empty: choose it again.",
        "max_length": "This file's name is too long: {max_length} characters are the most.",
    }


@extend_schema_field({"type": "object", "additionalProperties": {"type": "string"}})
class ColumnsField(Worded, serializers.Field):
    """What columns are, by their headers; in a form as the text of that object."""

    default_error_messages = {
        "invalid": "Send an object of texts: each column's header as it stands in the file, and what the column is.",
        "max_length": f"This names too many columns: {MOST_COLUMNS} are the most.",
    }

    def to_internal_value(self, data: Any) -> dict[str, str]:
        """Return the headers with what their columns are."""
        if isinstance(data, str):
            try:
                data = json.loads(data)
            except (ValueError, RecursionError):
                self.fail("invalid")
        if not isinstance(data, dict) or not all(isinstance(one, str) for one in data.values()):
            self.fail("invalid")
        if len(data) > MOST_COLUMNS:
            self.fail("max_length")
        text = TextField(max_length=MOST_CHARACTERS, allow_blank=True)
        return {text.run_validation(header): text.run_validation(key) for header, key in data.items()}

    def to_representation(self, value: Any) -> Any:
        """Return it as it is."""
        return value


class KeyField(Worded, serializers.IntegerField):
    """The id of a thing in this workshop."""

    default_error_messages = {
        "invalid": "Send the id, a whole number.",
        "min_value": "Send the id, a whole number from 1.",
        "max_value": "This number is too large to be an id: send the id as the house gave it.",
        "max_string_length": "This is too long to be an id: send the id as the house gave it.",
    }

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(min_value=1, max_value=LARGEST_KEY, **kwargs)


class CountField(Worded, serializers.IntegerField):
    """A whole number of things; what is too many is the house's business."""

    default_error_messages = {
        "invalid": "Send a whole number.",
        "min_value": "This number is too small: send {min_value} or more.",
        "max_value": "This number is too large: send {max_value} or less.",
        "max_string_length": "This number is too long: send a whole number.",
    }

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(min_value=-(2**31), max_value=2**31 - 1, **kwargs)


class CodesField(Worded, serializers.ListField):
    """A few codes, as answers name them."""

    default_error_messages = {
        "not_a_list": "Send a list, in square brackets.",
        "empty": "This list is empty: send at least one.",
        "min_length": "This list is too short: {min_length} are the least.",
        "max_length": "This list is too long: {max_length} are the most.",
    }

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(child=TextField(max_length=200), max_length=60, **kwargs)


class KeysField(Worded, serializers.ListField):
    """The ids of some things in this workshop."""

    default_error_messages = CodesField.default_error_messages

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(child=KeyField(), min_length=1, max_length=200, **kwargs)
