"""Fields that answer a wrong value with a sentence: what it is about, and what to do."""

from collections.abc import Callable
from datetime import datetime
from decimal import ROUND_CEILING, ROUND_DOWN, ROUND_HALF_EVEN, Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.core.exceptions import ValidationError

from curehouse.common.errors import DomainError
from curehouse.common.time import local_moment
from curehouse.common.units import SMALLEST_G, from_grams, parse_mass_g, parse_number, parse_step_g, to_grams
from curehouse.workshops.services import clean_name

_FIRST_YEAR, _LAST_YEAR = 2000, 2100
# A milligram is 0.00004 oz.
_MOST_PLACES = 7


class HouseForm(forms.Form):
    """A form whose every answer is the house's own, so the browser's own checks stay out of it."""

    use_required_attribute = False
    # What a service answered though every field was right; some refusals come with ways out.
    refusal: DomainError | None = None

    @property
    def lye_read(self) -> str:
        """Return what is sent back once a person read which poured versions ask for other lye; nothing where none do."""
        is_asked = self.refusal is not None and self.refusal.code == "poured_lye_moves"
        return str(self.refusal.data["confirm"]) if is_asked else ""


def _or_refused(read: Callable[[], Any]) -> Any:
    """Return what *read* returns; a :class:`DomainError` becomes the field's remedy."""
    try:
        return read()
    except DomainError as error:
        raise ValidationError(error.message, code=error.code) from error


def required(what: str, remedy: str) -> dict[str, str]:
    """Return the error messages of a field that was left empty."""
    return {"required": f"{what} is missing: {remedy}."}


def trimmed(number: Decimal) -> str:
    """Return a number to three places, without the zeros it is stored with."""
    return f"{number:.3f}".rstrip("0").rstrip(".")


def exactly(grams: Decimal, unit: str, *, rounding: str = ROUND_HALF_EVEN) -> str:
    """Return *grams* in *unit* with as many places as it takes to read the same milligrams again, three at the least.

    *rounding* is how they are read; what is read rounded down is never shown as less than it is.
    """
    to_show = ROUND_CEILING if rounding == ROUND_DOWN else ROUND_HALF_EVEN
    amount = from_grams(grams, unit)
    shown = (amount.quantize(Decimal(1).scaleb(-places), rounding=to_show) for places in range(3, _MOST_PLACES))
    kept = grams.quantize(SMALLEST_G)
    found = next((one for one in shown if to_grams(one, unit, rounding=rounding) == kept), amount)
    return f"{found:f}".rstrip("0").rstrip(".")


class NameField(forms.CharField):
    """A name, or another short text of one line; *remedy* is what to do where it is missing."""

    def __init__(self, *, what: str, longest: int = 120, remedy: str = "type a name", **kwargs: Any) -> None:
        self.what, self.longest = what, longest
        super().__init__(error_messages=required(what, remedy), **kwargs)

    def to_python(self, value: Any) -> str:
        """Return the name without stray white space."""
        text = super().to_python(value)
        if text in self.empty_values:
            return ""
        return _or_refused(lambda: clean_name(text, field="", what=self.what, longest=self.longest))


class TextField(forms.CharField):
    """Any text up to a length."""

    # Said in place of “optional” of a field that may stay empty only sometimes.
    needed = ""

    def __init__(self, *, what: str, longest: int, **kwargs: Any) -> None:
        messages = {"max_length": f"{what} is too long: keep it to {longest} characters."}
        super().__init__(max_length=longest, error_messages=messages | required(what, "type it"), **kwargs)


class NumberField(forms.CharField):
    """A number typed with a point or a comma, between bounds the field names itself."""

    def __init__(
        self, *, what: str, above: Decimal | None = None, most: Decimal | None = None, places: int = 3, **kwargs: Any
    ) -> None:
        self.what, self.above, self.most, self.places = what, above, most, places
        super().__init__(error_messages=required(what, "type it in figures"), **kwargs)
        self.widget.attrs |= {"inputmode": "decimal", "autocomplete": "off"}

    def read(self, text: str) -> Decimal:
        """Return the number that *text* spells."""
        number = parse_number(text, field="", what=self.what)
        if (self.above is not None and number <= self.above) or (self.most is not None and number > self.most):
            is_from_nothing = self.above is not None and -1 <= self.above < 0
            least = "is 0 or more, and at most" if is_from_nothing else f"lies above {self.above} and goes up to"
            between = f"{least} {self.most}"
            raise ValidationError(f"{self.what} {between}: check the figure.")
        return round(number, self.places)

    def to_python(self, value: Any) -> Decimal | None:
        """Return the number, or None where nothing was typed."""
        text = super().to_python(value)
        return None if text in self.empty_values else _or_refused(lambda: self.read(text))

    def prepare_value(self, value: Any) -> Any:
        """Show a number without the zeros it is stored with."""
        return trimmed(value) if isinstance(value, Decimal) else value


class MassField(NumberField):
    """A mass typed in the workshop's unit; its value is grams."""

    def __init__(self, *, unit: str, what: str, rounding: str = ROUND_HALF_EVEN, **kwargs: Any) -> None:
        self.unit, self.rounding = unit, rounding
        super().__init__(what=what, **kwargs)

    def read(self, text: str) -> Decimal:
        """Return the grams that *text* spells."""
        return parse_mass_g(text, self.unit, field="", what=self.what, rounding=self.rounding)

    def prepare_value(self, value: Any) -> Any:
        """Show grams in the workshop's unit, so that they are read again as they are."""
        return exactly(value, self.unit, rounding=self.rounding) if isinstance(value, Decimal) else value


class StepField(MassField):
    """A scale's step typed in the workshop's unit; its value is grams, as exactly as they are kept."""

    def read(self, text: str) -> Decimal:
        """Return the grams that *text* spells."""
        return parse_step_g(text, self.unit, field="", what=self.what)


class WholeField(forms.CharField):
    """A whole number between bounds."""

    def __init__(self, *, what: str, least: int, most: int, **kwargs: Any) -> None:
        self.what, self.least, self.most = what, least, most
        super().__init__(error_messages=required(what, "type a whole number"), **kwargs)
        self.widget.attrs |= {"inputmode": "numeric", "autocomplete": "off"}

    def to_python(self, value: Any) -> int | None:
        """Return the number, or None where nothing was typed."""
        text = super().to_python(value)
        if text in self.empty_values:
            return None
        whole = ValidationError(f"{self.what} is a whole number from {self.least} to {self.most}: check the figure.")
        try:
            number = parse_number(text, field="", what=self.what)
        except DomainError as error:
            raise whole from error
        # Bounds first: Decimal cannot take the remainder of a number of more than 28 digits.
        if not self.least <= number <= self.most or number % 1:
            raise whole
        return int(number)


class MomentField(forms.CharField):
    """A day and a time on the workshop's clock; its value is an aware moment."""

    def __init__(self, *, what: str, time_zone: str, **kwargs: Any) -> None:
        self.what, self.time_zone = what, time_zone
        super().__init__(error_messages=required(what, "choose a day and a time"), **kwargs)
        self.widget = forms.DateTimeInput(attrs={"type": "datetime-local"})
        self.widget.is_required = self.required

    def to_python(self, value: Any) -> datetime | None:
        """Return the moment, or None where nothing was typed."""
        text = super().to_python(value)
        if text in self.empty_values:
            return None
        try:
            wall = datetime.fromisoformat(text)
        except ValueError:
            wall = None
        if wall is None or wall.tzinfo is not None or not _FIRST_YEAR <= wall.year <= _LAST_YEAR:
            raise ValidationError(f"{self.what} is not a day and a time: choose both, like 2026-03-10 09:05.")
        return local_moment(wall.date(), wall.time(), self.time_zone)

    def prepare_value(self, value: Any) -> Any:
        """Show a moment as the workshop's clock does."""
        return f"{value.astimezone(ZoneInfo(self.time_zone)):%Y-%m-%dT%H:%M}" if isinstance(value, datetime) else value
