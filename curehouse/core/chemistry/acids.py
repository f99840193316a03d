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
    "citric": {
        "anhydrous": AcidForm(3, 192.123),
        "monohydrate": AcidForm(3, 210.138),
        "solution": AcidForm(3, 192.123, is_solution=True),
    },
    "lactic": {"solution": AcidForm(1, 90.078, is_solution=True)},
    "acetic": {"solution": AcidForm(1, 60.052, is_solution=True)},
    "tartaric": {"anhydrous": AcidForm(2, 150.086), "monohydrate": AcidForm(2, 168.101)},
    "malic": {"anhydrous": AcidForm(2, 134.087)},
    "ascorbic": {"anhydrous": AcidForm(1, 176.124)},
}

# Strengths (0-1) at which solutions are sold (common practice, no source): lactic acid of 80 to 90 %, seldom half
# of it; citric acid in water, which holds hardly more than 60 %; table vinegar, vinegar essence, glacial acid.
# What lies between is likelier a slip, as 50 for 5 %.
_SOLD_AT = {
    "citric": ((0.1, 0.6),),
    "lactic": ((0.45, 0.93),),
    "acetic": ((0.03, 0.15), (0.2, 0.3), (0.55, 1.0)),
}
_DRY = ((0.95, 1.0),)
_NOISE = 1e-9


def usual_strengths(name: str, form: AcidForm) -> tuple[tuple[float, float], ...]:
    """Return between what strengths (0-1) a *form* of the acid called *name* is sold."""
    return _SOLD_AT[name] if form.is_solution else _DRY


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
        """The forms that it may have; one that is sold dry is dissolved only where that is said."""
        forms = ACIDS[self.name]
        if self.form is not None:
            return (forms[self.form],)
        return tuple(form for form in forms.values() if not form.is_solution) or tuple(forms.values())

    @property
    def form_is_open(self) -> bool:
        """It is sold in several forms, and which one this is was not said."""
        return len(self.forms) > 1

    @property
    def strength_is_open(self) -> bool:
        """It is sold dissolved, and how strong this one is was not said."""
        return self.strength is None and any(form.is_solution for form in self.forms)

    @property
    def strength_is_odd(self) -> bool:
        """None of the forms that it may have is sold at the strength that was said."""
        if self.strength is None:
            return False
        sold = [ends for form in self.forms for ends in usual_strengths(self.name, form)]
        return not any(low - _NOISE <= self.strength <= high + _NOISE for low, high in sold)

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
        """The water of a solution, in grams; that of crystals is not counted.

        Of a solution of which the strength is not said no acid is counted, so all of it counts as water.
        """
        if self.strength is None:
            return self.mass_g if self.strength_is_open else 0.0
        return self.mass_g * (1 - self.strength)


def acids_water_g(acids: Sequence[Acid]) -> float:
    """Return the water that *acids* bring, in grams: it is liquid like any other and must dry out."""
    return math.fsum(acid.water_g for acid in acids)


def acids_mol(acids: Sequence[Acid], step_g: float = 0.0) -> Bounds:
    """Return the equivalents of alkali, in mol, that *acids* eat; *step_g* is the step of their scale in grams."""
    return total(weighed(acid.mass_g, step_g).part_of(acid.mol_per_g) for acid in acids)
