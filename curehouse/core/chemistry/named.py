"""What the names of a formula's lines say besides what they count as."""

from dataclasses import dataclass

from .acids import Acid
from .alkali import NAOH_G_PER_MOL
from .bounds import Bounds


@dataclass(frozen=True, slots=True)
class Misnamed:
    """A fat or a liquid that is called like another than the one it counts as.

    ``counted`` is what it counts as, by its key and figures, ``chosen`` the same in words and ``other``
    what it is called like, with its figures; ``other_saponification`` (mg KOH per g) is that one's range, None of a liquid.
    """

    name: str
    counted: str
    chosen: str
    other: str
    other_saponification: Bounds | None = None


@dataclass(frozen=True, slots=True)
class Aside:
    """What counts as no acid and no lye, and is called like an acid or an alkali; ``mass_g`` in grams.

    ``acid`` is what it would count as; None where it is an alkali.
    """

    name: str
    mass_g: float
    acid: Acid | None = None

    def figures(self, fats_g: float) -> dict[str, float | str]:
        """Return what is told of it beside *fats_g* grams of fats: the lye it may eat (as NaOH), or its share of the fats."""
        if self.acid is None:
            return {"name": self.name, "alkali_share": self.mass_g / fats_g}
        eaten_g = self.mass_g * self.acid.mol_per_g.high * NAOH_G_PER_MOL
        return {"name": self.name, "acid": f"{self.acid.name} acid", "eaten_g": eaten_g}
