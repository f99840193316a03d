"""What is typed about stock, made clean or answered in words: amounts, texts, days, moments."""

from datetime import date, datetime, timedelta
from decimal import Decimal

from curehouse.common.errors import Invalid
from curehouse.common.time import local_day
from curehouse.common.units import GRAM, LARGEST_G, SMALLEST_G, from_grams
from curehouse.workshops.models import Workshop
from inventory.models import Lot, Material

LONGEST_REASON = 400
LONGEST_NOTE = 4000
_FARTHEST = timedelta(days=30 * 366)


def clean_text(text: str, *, field: str, what: str, longest: int = 120) -> str:
    """Return one line without stray white space; it may be empty."""
    line = " ".join(text.split())
    if len(line) > longest:
        raise Invalid("too_long", f"{what} has {len(line)} characters: keep it to {longest}.", field=field)
    if not line.isprintable():
        raise Invalid("not_printable", f"{what} holds characters that cannot be shown: type it again.", field=field)
    return line


def clean_note(text: str, *, field: str = "note", what: str = "The note") -> str:
    """Return a text of several lines; it may be empty."""
    note = "\n".join(line.rstrip() for line in text.strip().splitlines())
    if len(note) > LONGEST_NOTE:
        raise Invalid("too_long", f"{what} has {len(note)} characters: keep it to {LONGEST_NOTE}.", field=field)
    if not note.replace("\n", "").replace("\t", "").isprintable():
        raise Invalid("not_printable", f"{what} holds characters that cannot be shown: type it again.", field=field)
    return note


def clean_reason(text: str, *, ask: str, field: str = "reason") -> str:
    """Return a reason; *ask* is the sentence that asks for it where it is missing."""
    reason = clean_text(text, field=field, what="The reason", longest=LONGEST_REASON)
    if not reason:
        raise Invalid("reason", ask, field=field)
    return reason


def show_amount(amount: Decimal, material: Material, unit: str) -> str:
    """Return grams (in *unit*, g or oz) or pieces as people read them: ``250 g``, ``3 pieces``."""
    if material.measure == Material.Measure.PIECES:
        pieces = int(amount)
        return f"{pieces} piece" if pieces == 1 else f"{pieces} pieces"
    shown = f"{amount:.3f}" if unit == GRAM else f"{from_grams(amount, unit):.3f}"
    return f"{shown.rstrip('0').rstrip('.')} {unit}"


def clean_amount(
    amount: Decimal,
    material: Material,
    *,
    field: str = "amount",
    what: str = "The amount",
    zero: bool = False,
    most: Decimal = LARGEST_G,
) -> Decimal:
    """Return grams to the milligram, or whole pieces, at most *most*; above 0 unless *zero* is allowed."""
    if not amount.is_finite():
        raise Invalid("not_a_number", f"{what}: type figures, like 118.6.", field=field)
    if amount > most:
        raise Invalid("too_large", f"{what} is over {most}: check the figure.", field=field)
    if amount < 0 or (amount == 0 and not zero):
        raise Invalid("not_positive", f"{what} must be {'0 or more' if zero else 'more than 0'}.", field=field)
    if 0 < amount < SMALLEST_G:
        raise Invalid("too_small", f"{what} is less than {SMALLEST_G}: check the figure.", field=field)
    if material.measure == Material.Measure.PIECES and amount != amount.to_integral_value():
        raise Invalid("whole", f"{what}: {material} is counted in pieces, so type a whole number.", field=field)
    return amount.quantize(SMALLEST_G)


def clean_moment(moment: datetime, lot: Lot, workshop: Workshop, *, at: datetime, field: str = "moment") -> datetime:
    """Return when something happened to *lot*: not in the future, not before it came in."""
    if moment > at:
        raise Invalid("future", "The time lies in the future: enter it once it is done.", field=field)
    if local_day(moment, workshop.time_zone) < lot.received_on:
        raise Invalid("before_receipt", f"{lot} came in on {lot.received_on}: check the time.", field=field)
    return moment


def clean_receipt_day(day: date, *, today: date) -> date:
    """Return the day a lot came in: not in the future, and within thirty years."""
    if day > today:
        raise Invalid("future", "The day of receipt lies in the future: enter a lot once it is here.", field="received_on")
    if day < today - _FARTHEST:
        raise Invalid("long_ago", "The day of receipt lies over thirty years back: check its year.", field="received_on")
    return day


def clean_best_before(day: date | None, *, received_on: date) -> date | None:
    """Return a best-before, or None where there is none; it may have passed already."""
    if day is not None and abs(day - received_on) > _FARTHEST:
        raise Invalid("best_before", "The best-before lies over thirty years away: check its year.", field="best_before")
    return day


def clean_unit_cost(cost: Decimal | None) -> Decimal | None:
    """Return the cost of a gram or a piece to six places, or None where it is not known."""
    if cost is None:
        return None
    if not cost.is_finite() or not 0 <= cost <= LARGEST_G:
        raise Invalid("cost", "The cost of a gram or a piece must be 0 or more: check the figure.", field="unit_cost")
    return cost.quantize(Decimal("0.000001"))
