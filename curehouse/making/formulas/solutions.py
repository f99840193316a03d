"""How strong lye is that was dissolved here beforehand: by what went into its lot, or by a certificate of that lot's own."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from curehouse.core.chemistry.alkali import Alkali, certified, is_hardly_sold, usual_purity
from curehouse.core.chemistry.bounds import Bounds
from curehouse.core.chemistry.dissolved import dried, if_dried, is_outside, may_dry_unseen, strength
from curehouse.making.formulas.known import LotKnown, figures_of
from curehouse.making.formulas.lots import purity_of
from curehouse.workshops.models import Workshop
from inventory.models import Lot
from inventory.solutions import Solution, solutions_of


@dataclass(frozen=True, slots=True)
class Dissolved:
    """A lot of lye that was dissolved here, with the figures of its own certificate and of those of the lye in it."""

    solution: Solution
    figures: Mapping[int, LotKnown]

    def by_weight(self, alkali: Alkali, *, step_g: float, typed: Bounds | None = None, used: bool = False) -> Bounds | None:
        """Return the pure alkali (0-1) in it by what was weighed on a scale of *step_g* grams a step.

        *typed* is the purity that counts for lye without a certificate; None where none is known of it.
        *used*: as strong as it can have been when it was used, not as what is left of it can be now.
        """
        lye = [(float(grams), purity_of(alkali, self.figures.get(lot.pk), typed)) for lot, grams in self.solution.taken]
        known = [(grams, purity) for grams, purity in lye if purity is not None]
        if len(known) < len(lye):
            return None
        left = self.solution.left_at_uses() if used else self.solution.left()
        try:
            return dried(strength(known, made_g=float(self.solution.made_g), step_g=step_g), left, step_g=step_g)
        except ValueError:
            return None

    @property
    def said(self) -> Bounds | None:
        """Return the pure alkali (0-1) in it as a certificate, or a titration, of this lot says."""
        own = self.figures.get(self.solution.lot.pk)
        percent = None if own is None else own.figures.get("purity")
        return None if percent is None else certified(float(percent / 100))

    def strong(self, alkali: Alkali, *, step_g: float, typed: Bounds | None = None, used: bool = False) -> Bounds | None:
        """Return the pure alkali (0-1) that counts: as its own certificate says, and what dried since, else by weight."""
        said, own = self.said, self.figures.get(self.solution.lot.pk)
        if said is None or own is None:
            return self.by_weight(alkali, step_g=step_g, typed=typed, used=used)
        since = own.told_at["purity"]
        left = self.solution.left_at_uses(since) if used else self.solution.left(since)
        try:
            return dried(said, left, step_g=step_g)
        except ValueError:
            return None

    def doubted(self, alkali: Alkali, *, step_g: float, typed: Bounds | None = None, used: bool = False) -> Bounds | None:
        """Return what counts beside its strength where that cannot be counted on; None where nothing is doubted.

        Where a slip of the pen is likelier that is what was weighed, and of what is so thin that water may have left it
        unseen the strength that it may have come to.
        """
        return self._without_slip(alkali, step_g, typed, used=used) or self._if_thin(alkali, step_g, typed, used=used)

    def is_thin(self, alkali: Alkali, *, step_g: float, typed: Bounds | None = None) -> bool:
        """Return whether all that is doubted is how much water left it: it is so thin that it may dry unseen."""
        return self._without_slip(alkali, step_g, typed) is None and self._if_thin(alkali, step_g, typed) is not None

    def _without_slip(self, alkali: Alkali, step_g: float, typed: Bounds | None, *, used: bool = False) -> Bounds | None:
        """Return what was weighed, of a figure of its own that says another thing, and of lye that is hardly sold so pure."""
        weighed = self.by_weight(alkali, step_g=step_g, typed=typed, used=used)
        if self.said is not None and weighed is not None and is_outside(self.said.middle, weighed):
            return weighed
        purities = [purity_of(alkali, self.figures.get(lot.pk), typed) for lot, _grams in self.solution.taken]
        if any(one is not None and is_hardly_sold(alkali, one.middle) for one in purities):
            return usual_purity(alkali).times(float(self.solution.share))
        return None

    def _if_thin(self, alkali: Alkali, step_g: float, typed: Bounds | None, *, used: bool = False) -> Bounds | None:
        strong = self.strong(alkali, step_g=step_g, typed=typed, used=used)
        return if_dried(alkali, strong) if strong is not None and may_dry_unseen(alkali, strong.middle) else None


def dissolved_of(workshop: Workshop, lots: Iterable[Lot]) -> dict[int, Dissolved | None]:
    """Return by its key each of *lots* that is lye made here; None where nobody knows what is in it. Three queries."""
    found = solutions_of(workshop, {lot.pk for lot in lots})
    figures = figures_of(workshop, _with_parts(one for one in found.values() if one is not None), dissolved=found.keys())
    return {key: None if one is None else Dissolved(one, figures) for key, one in found.items()}


def _with_parts(solutions: Iterable[Solution]) -> Collection[Lot]:
    rows = {lot.pk: lot for one in solutions for lot in (one.lot, *(part for part, _grams in one.taken))}
    return rows.values()
