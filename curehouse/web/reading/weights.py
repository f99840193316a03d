"""Weights of single bars as people read them off a scale."""

from decimal import ROUND_CEILING, ROUND_DOWN, Decimal
from typing import Any

from curehouse.common.units import GRAM, OUNCE, from_grams, show_mass, to_grams
from curehouse.core.cure.doubt import tare_question
from curehouse.workshops.models import Scale

_FEWEST_PLACES = {GRAM: 1}
_MOST_PLACES = 3
# A weekly loss of 0.75 % of a bar of 3.6 oz is 0.027 oz: where a scale shows thousandths, they tell how it dries.
_HUNDREDTH_OZ_G = to_grams(Decimal("0.01"), OUNCE)


def figure(grams: Decimal, unit: str) -> str:
    """Return a weight without its unit, with as many decimals as it was typed with: ``118.6``, ``4.18``, ``4.183``."""
    fewest = _FEWEST_PLACES.get(unit, 2)
    amount = from_grams(grams, unit)
    for places in range(fewest, _MOST_PLACES):
        shown = f"{amount:.{places}f}"
        if to_grams(Decimal(shown), unit) == grams:
            return shown
    # Grams are kept to the milligram; ounces were typed with three decimals, or weighed in grams.
    return f"{amount:.{_MOST_PLACES}f}"


def weight_at_least(grams: Decimal, unit: str) -> str:
    """Return what to weigh where less of it would be too little for the lye, as `weight`: never rounded down."""
    shown = figure(grams, unit)
    if to_grams(Decimal(shown), unit, rounding=ROUND_DOWN) >= grams:
        return f"{shown} {unit}"
    return f"{from_grams(grams, unit).quantize(Decimal(1).scaleb(-_MOST_PLACES), rounding=ROUND_CEILING)} {unit}"


def weight(grams: Decimal, unit: str) -> str:
    """Return a weight with its unit: ``118.6 g``."""
    return f"{figure(grams, unit)} {unit}"


def apart(grams: float, unit: str, *, like: Decimal) -> str:
    """Return how far a weight (*like*, grams) lies from another, without a sign: ``16.8 g``; ounces as fine as its own."""
    places = None if unit == GRAM else len(figure(like, unit).partition(".")[2])
    return show_mass(abs(grams), unit, decimals=places)


def question(detail: dict[str, Any], unit: str) -> str:
    """Return what is asked about a weight, with the weight of a tare in *unit*: ``Was the tray (84.0 g) on the scale?``."""
    name = detail.get("tare")
    if not name:
        return detail.get("question", "Is this weight right?")
    named = f"{name} ({weight(Decimal(detail['tare_g']), unit)})"
    return tare_question(named, lighter=detail["difference_g"] < 0, alike=detail["alike"])


def between(low_g: float, high_g: float, unit: str, scale: Scale | None = None) -> str:
    """Return the expected range: ``119.2–120.4 g``; ounces as fine as *scale* shows them."""
    is_fine = unit == OUNCE and scale is not None and scale.step_g < _HUNDREDTH_OZ_G
    places = _MOST_PLACES if is_fine else None
    low, high = (show_mass(grams, unit, decimals=places) for grams in (low_g, high_g))
    return f"{low.removesuffix(f' {unit}')}–{high}"


def step(scale: Scale, unit: str) -> str:
    """Return the smallest difference a scale shows: ``0.1 g``, ``0.0035 oz``."""
    return f"{float(from_grams(scale.step_g, unit)):.2g} {unit}"
