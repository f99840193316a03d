"""The superfat of a batch as it is kept: four places, and never rounded to the better side."""

from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

from curehouse.core.chemistry.superfat import Superfat

_STEP = Decimal("0.0001")
# A figure this far off is a slip of the pen whatever it is.
_FURTHEST = 99.0


def _kept(share: float, rounding: str) -> Decimal:
    # Twelve places first: 0.05 is not to become 0.0499 for the last bit of a float.
    near = Decimal(f"{max(-_FURTHEST, min(_FURTHEST, share)):.12f}")
    return near.quantize(_STEP, rounding=rounding)


def superfat_values(found: Superfat | None) -> dict[str, Decimal | None]:
    """Return the fields of a batch that hold its superfat; empty where it is not known."""
    names = (
        "superfat_low",
        "superfat_middle",
        "superfat_high",
        "superfat_effective",
        "superfat_effective_low",
        "superfat_effective_high",
    )
    if found is None:
        return dict.fromkeys(names)
    of_fats = found.of_fats
    figures = (
        _kept(of_fats.low, ROUND_FLOOR),
        _kept(of_fats.middle, ROUND_FLOOR),
        _kept(of_fats.high, ROUND_CEILING),
        _kept(found.effective.middle, ROUND_FLOOR),
        _kept(found.effective.low, ROUND_FLOOR),
        _kept(found.effective.high, ROUND_CEILING),
    )
    return dict(zip(names, figures, strict=True))
