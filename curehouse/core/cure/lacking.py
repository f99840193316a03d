"""What a measured batch lacks to be dry enough: the reason of its verdict that keeps it where it is."""

from collections.abc import Iterable, Mapping
from typing import Any

from .findings import MOST_DAMP_GAIN_PCT, TIE_NOISE_PCT

# Reasons that are given only where they stand in the way.
_ALWAYS = frozenset({"look_again", "not_weighed", "no_weekly_loss", "scale_too_coarse", "no_water_left", "dents"})
# By code: which figure must not be above which limit.
_LIMITS = {
    "weekly_loss": ("weekly_loss", "weekly_loss_limit"),
    "water_left": ("water_left", "water_left_limit"),
    "age": ("min_days", "age"),
}


def lacking(reasons: Iterable[Mapping[str, Any]]) -> str:
    """Return the first sentence of a verdict's reasons (in plain values) that says what is missing; empty where none does."""
    return next((reason["text"] for reason in reasons if _lacks(reason)), "")


def _lacks(reason: Mapping[str, Any]) -> bool:
    code, figures = reason["code"], {figure["name"]: figure["value"] for figure in reason["figures"]}
    if code in _ALWAYS:
        return True
    figure, limit = (figures.get(name) for name in _LIMITS.get(code, ("", "")))
    if figure is None or limit is None:
        return False
    gained = code == "weekly_loss" and figure < -MOST_DAMP_GAIN_PCT
    return gained or bool(figure > limit + TIE_NOISE_PCT)
