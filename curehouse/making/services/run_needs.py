"""What a run of so many oils takes: of each material of the storeroom, and of what is not kept there."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import ROUND_HALF_EVEN, Decimal

from curehouse.common.units import SMALLEST_G
from curehouse.core.chemistry.alkali import Alkali
from curehouse.core.chemistry.lye import LyeAmount
from curehouse.making.formulas.adapter import Planned
from curehouse.making.formulas.in_place import dissolved_with_g
from curehouse.making.formulas.known import Known
from curehouse.making.formulas.reading import kept
from curehouse.making.formulas.sizes import Size, in_size
from curehouse.making.models import FormulaVersion, Unasked
from curehouse.making.services.formulas import judged, plan, unread_values
from inventory.blends import Recipe, recipes_of
from inventory.models import Material

LYE_NAMES = {Alkali.NAOH: "sodium hydroxide (NaOH)", Alkali.KOH: "potassium hydroxide (KOH)"}


@dataclass(frozen=True, slots=True)
class Need:
    """Grams of one thing; None where they cannot be told. Without a material it is not kept in the storeroom."""

    name: str
    amount_g: Decimal | None
    material: Material | None = None
    is_lye: bool = False
    is_tap_water: bool = False

    @property
    def is_kept(self) -> bool:
        """Return whether the storeroom can be asked for it: kept there, in grams, and its amount known."""
        return self.material is not None and self.material.measure == Material.Measure.GRAMS and self.amount_g is not None


@dataclass(frozen=True, slots=True)
class RunNeeds:
    """What a run takes, and what was known of its materials when that was worked out.

    ``water_g`` is of each lye the water in front that may come with it, where it was dissolved beforehand. ``water_share``
    is the water of the fresh bar over its mass, None where it cannot be told.
    """

    needs: list[Need]
    known: Known
    recipes: Mapping[int, Recipe] = field(default_factory=dict)
    water_g: Mapping[Material, Decimal] = field(default_factory=dict)
    water_share: float | None = None

    @property
    def kept(self) -> dict[Material, Decimal]:
        """Return grams of each material that the storeroom can be asked for; lye as it is weighed dry."""
        found: dict[Material, Decimal] = {}
        for need in self.needs:
            if need.is_kept:
                # One lye for both alkalis, or a fat that is an addition too: all of it together.
                found[need.material] = found.get(need.material, Decimal(0)) + need.amount_g
        return {material: amount_g for material, amount_g in found.items() if amount_g > 0}

    @property
    def not_kept(self) -> list[Unasked]:
        """Return what the storeroom cannot be asked for: not kept there, counted in pieces, or of no known amount."""
        return [
            Unasked(need.name, need.amount_g, need.material is not None, need.is_lye) for need in self.needs if not need.is_kept
        ]


def run_needs(version: FormulaVersion, fats_g: Decimal, *, at: datetime) -> RunNeeds:
    """Return what *fats_g* grams of oils by *version* take, worked out by the lots of today.

    Of a formula that is refused today, of a value that nobody read yet, and without the purity of KOH
    no amount of lye is told, for none may be weighed out. What cannot be worked out at all is answered
    in words (``Invalid``).
    """
    one = plan(workshop=version.workshop, entry=kept(version).entry, at=at)
    one = in_size(one, Size(fats_g=fats_g))
    found = judged(one)
    is_hidden = found.is_refused or found.figures is None or unread_values(found, one.entry.confirmed)
    lye = () if is_hidden or found.figures is None else found.figures.lye
    return RunNeeds(
        needs=_of_lines(one) + _of_lye(one, lye),
        known=one.known,
        recipes=recipes_of(version.workshop),
        water_g=dissolved_with_g(one, lye),
        water_share=None if found.figures is None else found.figures.water_share.middle,
    )


def _of_lines(one: Planned) -> list[Need]:
    needs: dict[tuple[int | None, str], Need] = {}
    for line, mass_g in zip(one.entry.lines, one.masses_g, strict=True):
        key = (None, line.name) if line.material is None else (line.material.pk, "")
        before = needs.get(key)
        already_g = Decimal(0) if before is None or before.amount_g is None else before.amount_g
        # Water that is kept in the storeroom was bought.
        is_tap = line.key == "water" and line.material is None
        needs[key] = Need(line.name, already_g + mass_g, line.material, is_tap_water=is_tap)
    return list(needs.values())


def _of_lye(one: Planned, lye: Sequence[LyeAmount]) -> list[Need]:
    weighed = {amount.alkali: Decimal(str(amount.weigh_g)).quantize(SMALLEST_G, rounding=ROUND_HALF_EVEN) for amount in lye}
    of = {Alkali.NAOH: one.entry.naoh_from, Alkali.KOH: one.entry.koh_from}
    return [
        Need(
            LYE_NAMES[alkali] if (material := of[alkali]) is None else material.name, weighed.get(alkali), material, is_lye=True
        )
        for alkali in (part.alkali for part in one.formula.lye)
    ]
