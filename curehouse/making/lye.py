"""Whether the lye of a batch can be right for its fats; if not, it is asked about before it is kept.

The lye is counted as pure sodium hydroxide (NaOH), potassium hydroxide (KOH) as what it stands for: its
purity, and the kinds of fat, come with the formulas. So this finds slips of the pen, and no wrong recipe.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from curehouse.common.errors import Conflict, Invalid
from curehouse.common.units import SMALLEST_G, show_mass
from curehouse.core.chemistry.alkali import Alkali
from curehouse.core.chemistry.lye_bounds import LyeDoubt, lye_doubt

_OVER_FATS = "More lye than fats: check both weights before anyone touches this batch."
_MEANING = (
    "Too much lye burns skin, too little leaves a greasy bar. "
    "This finds slips only: whether the lye is right for your fats, it cannot say."
)


def is_kept_as_confirmed(
    *, fats_g: Decimal, lye_g: Decimal, liquids_g: Sequence[Decimal], unit: str, is_confirmed: bool, koh_g: Decimal = Decimal(0)
) -> bool:
    """Return whether an unusual amount of lye is kept because a person confirmed it; False for a usual one.

    Raises ``Conflict`` (lye_doubtful) for an unusual amount that nobody confirmed, and ``Invalid``
    (lye_over_fats) for more lye than fats, which no confirming helps. *unit* is the sentence's.
    """
    as_naoh_g = _as_naoh_g(lye_g, koh_g)
    doubt = lye_doubt(fats_g=float(fats_g), lye_g=as_naoh_g, liquids_g=[float(mass_g) for mass_g in liquids_g])
    if doubt is None:
        return False
    if koh_g:
        # What was meant of each nobody can say.
        doubt = replace(doubt, guess_g=None, is_swapped=False)
    if lye_g >= fats_g:
        raise Invalid("lye_over_fats", f"{_OVER_FATS} {_usual(doubt, fats_g, unit)}", field="lye_g", **_figures(doubt))
    if not is_confirmed:
        asked = (
            f"{alkalis_in_words(lye_g, koh_g, lambda grams: _mass(grams, unit))} of lye is "
            f"{'more' if as_naoh_g > doubt.high_g else 'less'} than soap takes: check both weights."
        )
        message = f"{asked} {_usual(doubt, fats_g, unit)} {_MEANING}"
        raise Conflict("lye_doubtful", message, field="lye_g", lye_g=f"{lye_g:.3f}", koh_g=f"{koh_g:.3f}", **_figures(doubt))
    return True


def is_lye_doubtful(*, fats_g: Decimal, lye_g: Decimal, koh_g: Decimal = Decimal(0)) -> bool:
    """Return whether no fats of soap take so much, or so little, lye; *koh_g* grams of it are potassium hydroxide."""
    return lye_doubt(fats_g=float(fats_g), lye_g=_as_naoh_g(lye_g, koh_g)) is not None


def _as_naoh_g(lye_g: Decimal, koh_g: Decimal) -> float:
    return float(lye_g - koh_g) + float(koh_g) * Alkali.NAOH.g_per_mol / Alkali.KOH.g_per_mol


def alkalis_in_words(lye_g: Decimal, koh_g: Decimal | None, mass: Callable[[Decimal], str]) -> str:
    """Return a mass of lye, each alkali by itself where potassium hydroxide is among it: ``70 g NaOH and 20 g KOH``."""
    if not koh_g:
        return mass(lye_g)
    parts = [(lye_g - koh_g, "NaOH"), (koh_g, "KOH")]
    return " and ".join(f"{mass(grams)} {name}" for grams, name in parts if grams)


def _usual(doubt: LyeDoubt, fats_g: Decimal, unit: str) -> str:
    # Not "usual" and not "would fit": the top is coconut without superfat, and burns as olive soap.
    low, high = _mass(doubt.low_g, unit).removesuffix(f" {unit}"), _mass(doubt.high_g, unit)
    outside = (
        f"For {_mass(fats_g, unit)} of fats no fat of soap takes less than {low} or more than {high} of sodium hydroxide, "
        "and an amount between these may still be far wrong for yours: hold it against your formula"
    )
    if doubt.guess_g is None:
        return f"{outside}."
    swapped = ", which stands among the liquids: did the two change places?" if doubt.is_swapped else "."
    return f"{outside}. Perhaps it was {_mass(doubt.guess_g, unit)}{swapped}"


def _mass(grams: Decimal | float, unit: str) -> str:
    return show_mass(grams, unit).replace(f".0 {unit}", f" {unit}")


def _figures(doubt: LyeDoubt) -> dict[str, Any]:
    """Return the figures behind the sentence, for a program or a button."""
    guess_g = None if doubt.guess_g is None else f"{Decimal(str(doubt.guess_g)).quantize(SMALLEST_G)}"
    return {
        "low_g": round(doubt.low_g, 1),
        "high_g": round(doubt.high_g, 1),
        "guess_g": guess_g,
        "is_swapped": doubt.is_swapped,
    }
