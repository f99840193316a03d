"""Acids that eat lye. The form matters: a monohydrate is part water, a solution more so."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from .bounds import Bounds, total
from .scale import weighed


@dataclass(frozen=True, slots=True)
class AcidForm:
    """A form in which an acid is sold.

    ``protons`` counts those that the alkali of soap takes (equivalents per mol); ``g_per_mol`` is the
    molar mass with the water of its crystals. A solution (``is_solution``) is sold by its strength.
    """

    protons: int
    g_per_mol: float
    is_solution: bool = False

    @property
    def mol_per_g(self) -> float:
        """Equivalents of alkali, in mol, that a gram of it takes."""
        return self.protons / self.g_per_mol


# Molar masses from the sum formulas by the conventional atomic weights of IUPAC. The second proton
# of ascorbic acid is too weak to be taken in soap (its pK is over 11), so one counts.
ACIDS: dict[str, dict[str, AcidForm]] = {
    "citric": {"anhydrous": AcidForm(3, 192.123), "monohydrate": AcidForm(3, 210.138)},
    "lactic": {"solution": AcidForm(1, 90.078, is_solution=True)},
    "acetic": {"solution": AcidForm(1, 60.052, is_solution=True)},
    "tartaric": {"anhydrous": AcidForm(2, 150.086), "monohydrate": AcidForm(2, 168.101)},
    "malic": {"anhydrous": AcidForm(2, 134.087)},
    "ascorbic": {"anhydrous": AcidForm(1, 176.124)},
}


@dataclass(frozen=True, slots=True)
class Acid:
    """An acid that goes in.

    ``name`` and ``form`` are keys of `ACIDS`; an unknown form (None) counts as the one that eats
    least, so that less lye is added for it. ``strength`` is the part of a solution that is acid
    (0-1); unknown (None) it counts as nothing, for the same reason. ``mass_g`` in grams, as weighed.
    """

    name: str
    mass_g: float
    form: str | None = None
    strength: float | None = None

    def __post_init__(self) -> None:
        if self.name not in ACIDS or (self.form is not None and self.form not in ACIDS[self.name]):
            raise ValueError("an acid and its form are named as the table names them")
        if not 0 < self.mass_g < math.inf:
            raise ValueError("an acid has a mass above 0 g")
        if self.strength is not None and not 0 < self.strength <= 1:
            raise ValueError("the strength of an acid is above 0 and up to 1")

    @property
    def forms(self) -> tuple[AcidForm, ...]:
        """The forms that it may have."""
        forms = ACIDS[self.name]
        return tuple(forms.values()) if self.form is None else (forms[self.form],)

    @property
    def form_is_open(self) -> bool:
        """It is sold in several forms, and which one this is was not said."""
        return len(self.forms) > 1

    @property
    def strength_is_open(self) -> bool:
        """It is sold dissolved, and how strong this one is was not said."""
        return self.strength is None and any(form.is_solution for form in self.forms)

    @property
    def mol_per_g(self) -> Bounds:
        """Equivalents of alkali, in mol, that a gram of it takes; what is unknown counts low."""
        per_g = [form.mol_per_g for form in self.forms]
        if self.strength_is_open:
            return Bounds(0.0, 0.0, max(per_g))
        strength = 1.0 if self.strength is None else self.strength
        return Bounds(min(per_g) * strength, min(per_g) * strength, max(per_g) * strength)

    @property
    def water_g(self) -> float:
        """The water of a solution, in grams; that of crystals is not counted."""
        return self.mass_g * (1 - self.strength) if self.strength is not None else 0.0


def acids_mol(acids: Sequence[Acid], step_g: float = 0.0) -> Bounds:
    """Return the equivalents of alkali, in mol, that *acids* eat; *step_g* is the step of their scale in grams."""
    return total(weighed(acid.mass_g, step_g).part_of(acid.mol_per_g) for acid in acids)
