"""Sodium and potassium hydroxide: their molar masses, how pure they are, and their share in a mix."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from .bounds import Bounds

# Molar masses in g/mol by the conventional atomic weights of IUPAC (Na 22.990, K 39.098, O 15.999, H 1.008).
NAOH_G_PER_MOL = 39.997
KOH_G_PER_MOL = 56.106

# How far a certificate may be off: pharmacopoeias let an assay read up to 100.5 % of what can be
# 100 % at most (from memory), so half a point of it is the assay's own.
ASSAY_DOUBT = 0.005
# Sodium hydroxide without a certificate: the lower limit of the American formulary (from memory).
NAOH_LOWEST_PURITY = 0.95


class Alkali(StrEnum):
    """What the lye is made of."""

    NAOH = "naoh"
    KOH = "koh"

    @property
    def g_per_mol(self) -> float:
        """Molar mass in g/mol; one mole is one equivalent."""
        return NAOH_G_PER_MOL if self is Alkali.NAOH else KOH_G_PER_MOL

    @property
    def least_plausible_purity(self) -> float:
        """The purity (0-1) under which a figure is taken for a slip: five points under the lowest assay on sale."""
        return 0.90 if self is Alkali.NAOH else 0.80

    @property
    def lowest_purity_on_sale(self) -> float:
        """The lowest assay (0-1) that it is usually sold with (common practice, no source); less is asked about."""
        return self.least_plausible_purity + 0.05


def certified(purity: float) -> Bounds:
    """Return the purity (0-1) of a lye lot with a certificate, give or take what an assay may be off.

    An assay over 100 % counts 100 %.

    Raises
    ------
    ValueError
        If *purity* is not above 0 and at most 1.005.
    """
    if not 0 < purity <= 1 + ASSAY_DOUBT:
        raise ValueError("a purity is above 0 and at most 1.005")
    counted = min(purity, 1.0)
    return Bounds(max(0.0, counted - ASSAY_DOUBT), counted, min(1.0, counted + ASSAY_DOUBT))


# Counted as pure, so that less lye is weighed and not more.
UNCERTIFIED_NAOH = Bounds(NAOH_LOWEST_PURITY, 1.0, 1.0)


def usual_purity(alkali: Alkali) -> Bounds:
    """Return the purity (0-1) that an alkali on sale may have, counted as pure."""
    return Bounds(alkali.lowest_purity_on_sale, 1.0, 1.0)


def is_hardly_sold(alkali: Alkali, purity: float) -> bool:
    """Return whether an alkali of this *purity* (0-1) is hardly sold: a slip of the pen is likelier."""
    return purity < alkali.lowest_purity_on_sale - 1e-9


def purest_of(lots: Sequence[Bounds]) -> Bounds:
    """Return the purity of lye that comes from several lots at once: counted at the purest, which asks for the least of it."""
    return Bounds(min(one.low for one in lots), max(one.middle for one in lots), max(one.high for one in lots))


@dataclass(frozen=True, slots=True)
class LyePart:
    """One alkali of the lye: its share of the equivalents (above 0, up to 1) and its purity (0-1).

    ``purity`` None means that no certificate is at hand: sodium hydroxide then counts as pure;
    potassium hydroxide is sold far from it, and nothing can be worked out.
    """

    alkali: Alkali
    share: float = 1.0
    purity: Bounds | None = None

    def __post_init__(self) -> None:
        if not 0 < self.share <= 1:
            raise ValueError("an alkali has a share above 0 and up to 1 of the equivalents")
        if self.purity is not None and not (self.purity.low >= 0 < self.purity.middle and self.purity.high <= 1):
            raise ValueError("a purity lies between 0 and 1")

    @property
    def counted_purity(self) -> float | None:
        """The purity (0-1) that amounts are worked out with; None where none can be counted."""
        purity = self.purity_bounds
        return None if purity is None else purity.middle

    @property
    def purity_bounds(self) -> Bounds | None:
        """The purity (0-1) with its ends; None for potassium hydroxide without a certificate."""
        return UNCERTIFIED_NAOH if self.purity is None and self.alkali is Alkali.NAOH else self.purity


def check_mix(parts: tuple[LyePart, ...]) -> None:
    """Refuse a mix that names an alkali twice or whose shares do not make a whole.

    Raises
    ------
    ValueError
        If so.
    """
    if len({part.alkali for part in parts}) != len(parts):
        raise ValueError("each alkali stands once in a mix")
    if not math.isclose(math.fsum(part.share for part in parts), 1.0, abs_tol=1e-9):
        raise ValueError("the shares of the alkalis make a whole")
