"""A verdict's reasons told of a batch whose bars are gone: in the past tense, from the same figures."""

from collections.abc import Mapping

from .words import number, number_above, number_exact, unbroken

_AS_SAID = {
    "check_none": "No safety check was made.",
    "check_passed": "Its safety check was passed.",
    "no_weekly_loss": "There was no weekly loss to go by.",
    "no_water_left": "How much of its water was left was not known.",
    "scale_too_coarse": "The scale was too coarse to show whether it was dry enough.",
}
_TURNED = {
    "look_again": ("this batch is", "this batch was"),
}


def in_hindsight(code: str, text: str, figures: Mapping[str, float]) -> str:
    """Return what a reason (its code, its sentence, its figures by name) says once the batch is gone.

    A sentence that speaks of the past already, or a code not known here, comes back as it was.
    """
    if code in _AS_SAID:
        return _AS_SAID[code]
    if code == "doubtful":
        return _left_out(text)
    if code in _TURNED:
        return text.replace(*_TURNED[code])
    if code == "late_start":
        return (
            text.replace("isn't counted", "wasn't counted")
            .replace(" is not known", " was not known")
            .replace(" is that", " was that")
        )
    try:
        return unbroken(_retold(code, text, figures))
    except KeyError:
        # A reason written before it carried this figure.
        return text


def _left_out(text: str) -> str:
    """Return which weighings the verdict went without; verdicts of before did not say that it is the verdict that did."""
    be, them = ("were", "them") if text.startswith("Bars ") or " and bar" in text else ("was", "it")
    for said in ("left out of the verdict", "left out"):
        text = text.replace(f": {said} until confirmed or corrected", f" {be} {said}: nobody confirmed or corrected {them}")
    return text


def _retold(code: str, text: str, figures: Mapping[str, float]) -> str:
    if code == "weekly_loss":
        return _weekly(figures["weekly_loss"], figures["weekly_loss_limit"])
    if code == "age":
        return f"It came to day {figures['age']:.0f}; it was old enough from day {figures['min_days']:.0f}."
    if code == "past_latest":
        return f"It came to day {figures['age']:.0f}; its latest day was {figures['latest_day']:.0f}."
    if code == "not_weighed":
        return f"It had not been weighed for {figures['days_since_weighed']:.0f} days."
    if code == "water_left":
        return _water(figures["water_left"], figures.get("water_left_limit"))
    if code == "more_than_its_water":
        return f"It had lost {number_above(100 - figures['water_left'], 100)} % of the water that went in."
    if code == "scale_step":
        return f"The scale showed the weekly loss to ± {number(figures['half_step'])} %."
    if code in ("firmness", "dents"):
        return _thumb(round(figures["denting"]), round(figures["noted"]))
    return text


def _weekly(weekly_pct: float, limit_pct: float) -> str:
    limit = f"{number_exact(limit_pct)} % or less was dry enough."
    if weekly_pct > limit_pct:
        return f"It lost {number_above(weekly_pct, limit_pct)} % in its last week; {limit}"
    if number(weekly_pct) == "0":
        return f"It lost nothing in its last week; {limit}"
    done, size = ("gained", -weekly_pct) if weekly_pct < 0 else ("lost", weekly_pct)
    return f"It {done} {number(size)} % in its last week; {limit}"


def _water(left_pct: float, limit_pct: float | None) -> str:
    if limit_pct is None:
        return f"{number(left_pct)} % of its water was still in it."
    left = number_above(left_pct, limit_pct) if left_pct > limit_pct else number(left_pct)
    return f"{left} % of its water was still in it; {number_exact(limit_pct)} % or less was dry enough."


def _thumb(denting: int, noted: int) -> str:
    if not denting:
        return "No bar dented under the thumb."
    return f"{denting} of {noted} {'bar' if noted == 1 else 'bars'} dented under the thumb."
