"""Amounts of the storeroom in words: kilograms where there are many grams, pieces where they are counted."""

from decimal import ROUND_HALF_EVEN, Decimal

from curehouse.common.units import GRAM, GRAMS_PER
from inventory.models import Lot, Material

_MANY = {GRAM: ("kg", Decimal(1000)), "oz": ("lb", 10 * GRAMS_PER["lb"])}


def amount_words(amount: Decimal, material: Material, unit: str) -> str:
    """Return what there is as it is said: ``250 g``, ``12.5 kg``, ``3 pieces``; exact to the milligram."""
    if material.measure == Material.Measure.PIECES:
        pieces = int(amount)
        return f"{pieces} piece" if abs(pieces) == 1 else f"{pieces} pieces"
    larger, from_g = _MANY[unit]
    shown_in = larger if abs(amount) >= from_g else unit
    places = 6 if shown_in == "kg" else 3
    figure = f"{amount / GRAMS_PER[shown_in]:.{places}f}".rstrip("0").rstrip(".")
    return f"{figure or '0'} {shown_in}"


def about_words(amount: Decimal | float, material: Material, unit: str) -> str:
    """Return an amount that was reckoned and not weighed, to three figures: ``about 1.23 kg``."""
    if material.measure == Material.Measure.PIECES:
        return f"about {float(amount):.3g}"
    larger, from_g = _MANY[unit]
    shown_in = larger if abs(Decimal(amount)) >= from_g else unit
    return f"about {float(Decimal(amount) / GRAMS_PER[shown_in]):.3g} {shown_in}"


def rounded_words(amount: Decimal | float, material: Material, unit: str, *, rounding: str = ROUND_HALF_EVEN) -> str:
    """Return an amount that was reckoned, to three figures of what it is said in: ``1.23 kg``; pieces are whole."""
    # Milligrams first: 200 is not to become 201 for the last bit of a float.
    exact = Decimal(str(round(float(amount), 3)))
    if material.measure == Material.Measure.PIECES:
        return amount_words(exact.quantize(Decimal(1), rounding=rounding), material, unit)
    larger, from_g = _MANY[unit]
    shown_in = larger if abs(exact) >= from_g else unit
    shown = exact / GRAMS_PER[shown_in]
    if shown:
        shown = shown.quantize(Decimal(1).scaleb(max(shown.adjusted() - 2, -3)), rounding=rounding)
    return f"{plain_figure(shown)} {shown_in}"


def plain_figure(figure: Decimal) -> str:
    """Return a figure without zeros that say nothing: ``1200``, ``0.5``."""
    text = f"{figure:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def moved_words(amount: Decimal, material: Material, unit: str) -> str:
    """Return what came or went with its sign: ``+12.5 kg``, ``−250 g``."""
    sign = "+" if amount > 0 else "−"
    return f"{sign}{amount_words(abs(amount), material, unit)}"


def roughly(words: str, *, is_estimate: bool) -> str:
    """Return an amount with its mark where it rests on what was judged by eye: ``≈ 4.5 kg``."""
    return f"≈ {words}" if is_estimate else words


def held_words(lot: Lot, unit: str) -> str:
    """Return what a lot holds; what rests on an estimate has its mark: ``≈ 4.5 kg``."""
    return roughly(amount_words(lot.on_hand, lot.material, unit), is_estimate=lot.is_estimated)
