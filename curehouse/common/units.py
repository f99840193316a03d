"""Grams inside, grams or ounces at the door."""

import re
from decimal import ROUND_CEILING, ROUND_DOWN, ROUND_HALF_EVEN, Decimal, InvalidOperation

from curehouse.common.errors import Invalid

GRAM = "g"
OUNCE = "oz"

# International avoirdupois ounce, exact by definition (NIST Handbook 44, Appendix C).
GRAMS_PER_OUNCE = Decimal("28.349523125")

# What masses are bought and weighed in, in grams; the pound is 16 ounces, 453.59237 g (the same source).
GRAMS_PER = {GRAM: Decimal(1), "kg": Decimal(1000), OUNCE: GRAMS_PER_OUNCE, "lb": 16 * GRAMS_PER_OUNCE}

# ASCII: other scripts' digits would be read here and stumbled over later.
_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)", re.ASCII)
# What a column of grams keeps: milligrams, up to a tonne.
SMALLEST_G = Decimal("0.001")
LARGEST_G = Decimal("999999")
# A scale's step is kept finer: a thousandth of an ounce is 0.028349523125 g, and whole steps of it are weighed out.
SMALLEST_STEP_G = Decimal("1e-12")

# No weight, count or share needs more characters than this.
_LONGEST = 30


def to_grams(amount: Decimal, unit: str, *, rounding: str = ROUND_HALF_EVEN, to: Decimal = SMALLEST_G) -> Decimal:
    """Return *amount* of *unit* in grams, *to* the milligram where nothing else is said.

    What lye is worked out from is rounded down (`decimal.ROUND_DOWN`), so that it never becomes more.
    """
    grams = amount * GRAMS_PER_OUNCE if unit == OUNCE else amount
    return grams.quantize(to, rounding=rounding)


def from_grams(grams: Decimal, unit: str) -> Decimal:
    """Return *grams* in *unit*, unrounded."""
    return grams / GRAMS_PER_OUNCE if unit == OUNCE else grams


def parse_number(text: str, *, field: str, what: str) -> Decimal:
    """Read a number typed with a point or a comma.

    ``1,234.5`` is refused rather than guessed: a thousands mark and a decimal comma look alike.
    """
    typed = text.strip().replace("\u00a0", " ")
    if not typed:
        raise Invalid("missing", f"{what} is missing: type it in figures.", field=field)
    if len(typed) > _LONGEST:
        raise Invalid("too_long", f"{what} has {len(typed)} characters: type the figure anew.", field=field)
    if not _NUMBER.fullmatch(typed):
        raise Invalid(
            "not_a_number",
            f"{what} reads “{typed[:30]}”: type figures with one point or comma, like 118.6.",
            field=field,
        )
    try:
        return Decimal(typed.replace(",", "."))
    except InvalidOperation as error:
        raise Invalid("not_a_number", f"{what}: type figures, like 118.6.", field=field) from error


def parse_mass_g(
    text: str, unit: str, *, field: str, what: str, rounding: str = ROUND_HALF_EVEN, to: Decimal = SMALLEST_G
) -> Decimal:
    """Read a mass in *unit* and return grams, as `to_grams`; it must be above zero and at most a tonne."""
    amount = parse_number(text, field=field, what=what)
    if amount <= 0:
        raise Invalid("not_positive", f"{what} must be more than 0 {unit}.", field=field)
    if amount > LARGEST_G:
        raise Invalid("too_large", f"{what} is over {LARGEST_G} {unit}: check the figure.", field=field)
    grams = to_grams(amount, unit, rounding=rounding, to=to)
    if grams < SMALLEST_G / 2:
        raise Invalid("too_small", f"{what} is {amount} {unit}, less than a milligram: check the figure.", field=field)
    if grams > LARGEST_G:
        raise Invalid("too_large", f"{what} is {amount} {unit}: check the figure.", field=field)
    return grams


def parse_step_g(text: str, unit: str, *, field: str, what: str) -> Decimal:
    """Read a scale's step in *unit* and return grams, a step in ounces as exactly as it is kept."""
    return parse_mass_g(text, unit, field=field, what=what, to=SMALLEST_STEP_G)


def show_at_most(grams: Decimal | float, unit: str) -> str:
    """Return a mass that is to be weighed out and must not be exceeded: cut off to a thousandth, never rounded up."""
    amount = from_grams(Decimal(str(grams)), unit).quantize(SMALLEST_G, rounding=ROUND_DOWN)
    return f"{f'{amount:f}'.rstrip('0').rstrip('.')} {unit}"


def show_at_least(grams: Decimal | float, unit: str) -> str:
    """Return a mass that must not be fallen short of, as people read it: never rounded down."""
    places = 2 if unit == OUNCE else 1
    # Nine places first: 200 is not to become 200.1 for the last bit of a float.
    amount = from_grams(Decimal(str(grams)), unit).quantize(Decimal("1e-9"))
    return f"{amount.quantize(Decimal(1).scaleb(-places), rounding=ROUND_CEILING)} {unit}"


def show_mass(grams: Decimal | float, unit: str, *, decimals: int | None = None) -> str:
    """Return a mass as people read it: ``118.6 g``, ``4.18 oz``."""
    places = decimals if decimals is not None else (2 if unit == OUNCE else 1)
    return f"{from_grams(Decimal(str(grams)), unit):.{places}f} {unit}"
