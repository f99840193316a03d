"""Fats and the lye that they take."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from .alkali import KOH_G_PER_MOL
from .bounds import Bounds, total
from .scale import weighed

# A certificate's own doubt: two determinations side by side may differ by half a percent of the
# value (the international standard for the method, from memory).
CERTIFICATE_DOUBT = 0.005
# mg KOH per g. Outside of these lies no fat or wax that soap is made of (beeswax, the lowest, takes
# about 90; the fats of three short acids would take under 400): such a figure is a slip or has another unit.
LEAST_VALUE, MOST_VALUE = 60.0, 400.0
# So far beyond the end of the published range, as a part of it, no lot of a fat lies: a slip, or another fat
# (common practice, no source).
MOST_BEYOND = 0.15


def certificate_value(mg_koh_per_g: float) -> Bounds:
    """Return a certificate's saponification value (mg KOH per g of fat), give or take what the method may be off."""
    doubt = mg_koh_per_g * CERTIFICATE_DOUBT
    return Bounds(mg_koh_per_g - doubt, mg_koh_per_g, mg_koh_per_g + doubt)


def own_range(low: float, high: float) -> Bounds:
    """Return a maker's own range (mg KOH per g), counted at its middle.

    Two ends that are one value are somebody's determination too: no narrower than a certificate's.
    """
    middle = (low + high) / 2
    one = certificate_value(middle)
    return Bounds(max(LEAST_VALUE, min(low, one.low)), middle, min(MOST_VALUE, max(high, one.high)))


def least_of(values: Sequence[Bounds]) -> Bounds:
    """Return what several values may be at once, counted at the least of their middles."""
    return Bounds(min(one.low for one in values), min(one.middle for one in values), max(one.high for one in values))


def lies_outside(value: Bounds, published: Bounds) -> bool:
    """Return whether a saponification value has nothing in common with the *published* range, even with its own doubt."""
    return value.high < published.low or value.low > published.high


def mol_per_g(saponification: Bounds) -> Bounds:
    """Return the equivalents of alkali, in mol, that a gram of fat takes, from mg KOH per g."""
    return saponification.times(1 / 1000 / KOH_G_PER_MOL)


@dataclass(frozen=True, slots=True)
class Fat:
    """A fat that goes in.

    ``mass_g`` in grams; saponification values in mg KOH per g of fat: ``published`` is the range of
    a standard or the maker's own, ``certificate`` the value of the lot, which beats it. One of them
    must be there. ``listed`` is the standard's range where ``published`` is the maker's own.

    Of a fat that comes from several lots ``certificate`` is the lowest value, for that asks for the
    least lye, and ``certificate_most`` the highest; where ``has_open_lot`` one of them has none, and
    the published range counts with them.
    """

    name: str
    mass_g: float
    published: Bounds | None = None
    certificate: float | None = None
    listed: Bounds | None = None
    certificate_most: float | None = None
    has_open_lot: bool = False

    def __post_init__(self) -> None:
        if not 0 < self.mass_g < math.inf:
            raise ValueError("a fat has a mass above 0 g")
        if self.certificate_most is not None and not (self.certificate or math.inf) <= self.certificate_most:
            raise ValueError("the highest of several certificates is not under the lowest")
        if self.published is None and self.certificate is None:
            raise ValueError("a fat has a saponification value: a published range or a certificate's")
        if not LEAST_VALUE <= self.saponification.low <= self.saponification.high <= MOST_VALUE:
            raise ValueError("a saponification value in mg KOH per g of fat lies between 60 and 400")

    @property
    def saponification(self) -> Bounds:
        """The value that counts, in mg KOH per g: the certificate's if there is one, else the published range."""
        if self.certificate is None:
            assert self.published is not None  # noqa: S101 - held by __post_init__
            return self.published
        lowest = certificate_value(self.certificate)
        value = Bounds(lowest.low, lowest.middle, certificate_value(self._most_certified).high)
        return least_of((value, self.published)) if self.has_open_lot and self.published is not None else value

    @property
    def _most_certified(self) -> float:
        return self.certificate_most or self.certificate or 0.0

    @property
    def certificate_is_odd(self) -> bool:
        """The certificate, or one of several, lies outside of the published range, even with its own doubt."""
        return self.odd_certificate is not None

    @property
    def odd_certificate(self) -> tuple[float, Bounds] | None:
        """The certificate that lies outside of what is published, even with its own doubt, and that range; None of none.

        Held against the standard's range and the maker's own: neither makes a slip of the pen against the other look right.
        """
        certified = [] if self.certificate is None else [self.certificate, self._most_certified]
        ranges = [one for one in (self.listed, self.published) if one is not None]
        odd = [(value, one) for one in ranges for value in certified if lies_outside(certificate_value(value), one)]
        return max(odd, key=lambda found: _beyond(found[0], found[1]), default=None)

    @property
    def certificate_is_far(self) -> bool:
        """The certificate lies so far outside of what is published that it is no lot's."""
        odd = self.odd_certificate
        return odd is not None and _beyond(*odd) > MOST_BEYOND

    @property
    def own_range_is_odd(self) -> bool:
        """The maker's own range counts, at a middle that lies outside of the standard's."""
        own, listed = self._own_range_that_counts, self.listed
        return own is not None and listed is not None and not listed.low <= own.middle <= listed.high

    @property
    def own_range_is_far(self) -> bool:
        """The maker's own range counts, and an end of it lies so far outside of the standard's that no lot has it."""
        own, listed = self._own_range_that_counts, self.listed
        return own is not None and listed is not None and max(_beyond(own.low, listed), _beyond(own.high, listed)) > MOST_BEYOND

    @property
    def _own_range_that_counts(self) -> Bounds | None:
        counts = self.listed is not None and (self.certificate is None or self.has_open_lot)
        return self.published if counts else None


def _beyond(value: float, published: Bounds) -> float:
    """Return how far *value* lies outside of a range, as a part of the end that it is nearest to; 0 within."""
    return max(0.0, value / published.high - 1, 1 - value / published.low)


def fats_mol(fats: Sequence[Fat], step_g: float = 0.0) -> Bounds:
    """Return the equivalents of alkali, in mol, that neutral bars of *fats* would take.

    *step_g* is the step of the scale that the fats are weighed on, in grams.
    """
    return total(weighed(fat.mass_g, step_g).part_of(mol_per_g(fat.saponification)) for fat in fats)


def fats_g(fats: Sequence[Fat]) -> float:
    """Return the mass of all fats in grams."""
    return math.fsum(fat.mass_g for fat in fats)
