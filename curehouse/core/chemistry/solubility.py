"""How much lye the water in front can dissolve.

Published tables differ (sodium hydroxide at 25 °C: 100 to 114 g in 100 g of water), and a value
between two of them is nobody's measurement. So there are two steps and nothing in between.
"""

from collections.abc import Mapping

from .alkali import Alkali

# From here on the values for a warm room count.
WARM_C = 20.0
# g of the pure alkali in 100 g of water; from memory, tables differ. Cold: the value at 0 °C, and
# none is known well enough for potassium hydroxide.
_WARM = {Alkali.NAOH: 100.0, Alkali.KOH: 112.0}
_COLD: dict[Alkali, float | None] = {Alkali.NAOH: 42.0, Alkali.KOH: None}


def solubility(alkali: Alkali, front_c: float) -> float | None:
    """Return how many grams of pure *alkali* a gram of water of *front_c* °C is counted on to dissolve.

    None means that nothing can be counted on: keep it at 20 °C or warmer.
    """
    per_100_g = _WARM[alkali] if front_c >= WARM_C else _COLD[alkali]
    return None if per_100_g is None else per_100_g / 100


_NOISE = 1e-9


def dissolves(needed_g: float | None, water_g: float) -> bool:
    """Return whether *water_g* grams of water are as much as is needed (None: nothing can be counted on)."""
    return needed_g is not None and water_g >= needed_g * (1 - _NOISE)


def water_needed_g(pure_g: Mapping[Alkali, float], front_c: float) -> float | None:
    """Return the water, in grams, that *pure_g* grams of each alkali need together at *front_c* °C.

    None if one of them cannot be counted on to dissolve so cold. Both in the same water need the
    sum of what each needs alone.
    """
    needed_g = 0.0
    for alkali, mass_g in sorted(pure_g.items()):
        dissolves = solubility(alkali, front_c)
        if mass_g > 0 and dissolves is None:
            return None
        needed_g += mass_g / dissolves if dissolves else 0.0
    return needed_g
