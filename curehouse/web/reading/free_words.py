"""How what is free of a material comes about, as a sum that adds up."""

from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

from curehouse.common.units import OUNCE, from_grams, show_at_least
from curehouse.core.stock.netting import Supplied
from curehouse.web.reading.amounts import roughly


def free_words(likely: Supplied, safe: Supplied, unit: str, *, by_eye: bool) -> str:
    """Return how what is free comes about, as a sum that adds up; *by_eye* a part of what is here was judged by eye.

    To the tenth as elsewhere: what is there cut off and what goes from it never short, so that no more is free than is.
    """
    here, coming = (_tenths(grams, unit, ROUND_FLOOR) for grams in (likely.here_g, likely.coming_g))
    before, later = (_tenths(grams, unit, ROUND_CEILING) for grams in (likely.taken_before_g, likely.kept_for_later_g))
    most = _tenths(likely.free_g, unit, ROUND_FLOOR)
    adds_up = here + coming - before - later
    free = adds_up if 0 <= adds_up <= most and most - adds_up < 1 else most
    said = [f"{roughly(_said(here, unit), is_estimate=by_eye)} here{', a part of it estimated' if by_eye else ''}"]
    if likely.coming_g:
        safely = _tenths(safe.coming_g, unit, ROUND_FLOOR)
        sure = "" if safe.coming_g == likely.coming_g else f", safely {_said(safely, unit)}"
        said.append(f"{_said(coming, unit)} come in time{sure}")
    if likely.taken_before_g:
        said.append(f"{_said(before, unit)} go into runs up to then")
    if likely.kept_for_later_g:
        said.append(f"{_said(later, unit)} stay for later runs")
    rest = f"; {show_at_least(likely.made_up_g, unit)} made up from its parts" if likely.made_up_g else ""
    return f"{', '.join(said)}: {_said(free, unit)} free{rest}"


def _tenths(grams: float, unit: str, rounding: str) -> Decimal:
    """Return grams in *unit* as people read them, to a tenth of a gram or a hundredth of an ounce."""
    # Nine places first: 200 is not to become 199.9 for the last bit of a float.
    amount = from_grams(Decimal(str(grams)), unit).quantize(Decimal("1e-9"))
    return amount.quantize(Decimal("0.01") if unit == OUNCE else Decimal("0.1"), rounding=rounding)


def _said(amount: Decimal, unit: str) -> str:
    return f"{f'{amount:f}'.rstrip('0').rstrip('.')} {unit}"
