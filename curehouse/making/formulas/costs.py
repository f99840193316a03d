"""What the lines of a formula cost, by the lots it would take."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from curehouse.core.chemistry.alkali import Alkali
from curehouse.core.chemistry.formula import Figures
from curehouse.making.formulas.adapter import Planned
from curehouse.making.formulas.lots import Take, of_material
from inventory.models import Material


@dataclass(frozen=True, slots=True)
class Cost:
    """The cost of what is known, in the workshop's currency, and the names of what is not."""

    total: Decimal
    unknown: tuple[str, ...]


def cost_of(one: Planned, figures: Figures | None) -> Cost | None:
    """Return what a plan costs; None where the cost of nothing that goes in is known."""
    amounts: list[tuple[str, Material | None, Decimal]] = [
        (line.name, line.material, mass_g)
        for line, mass_g in zip(one.entry.lines, one.masses_g, strict=True)
        # Water comes from the tap.
        if line.key != "water"
    ]
    for amount in () if figures is None else figures.lye:
        material = one.entry.naoh_from if amount.alkali is Alkali.NAOH else one.entry.koh_from
        amounts.append(("lye", material, Decimal(str(amount.weigh_g))))
    total, unknown, is_known = Decimal(0), [], False
    for name, material, mass_g in amounts:
        per_g = _cost_per_g(of_material(one.taken, material))
        if per_g is None:
            unknown.append(name)
            continue
        total, is_known = total + mass_g * per_g, True
    return Cost(total.quantize(Decimal("0.01")), tuple(dict.fromkeys(unknown))) if is_known else None


def _cost_per_g(found: Sequence[Take]) -> Decimal | None:
    """Return what a gram costs, at the mean of its lots by mass; None where that of one of them is not known."""
    paid = [(take.of.lot.unit_cost, take.mass_g) for take in found]
    whole_g = sum((mass_g for _cost, mass_g in paid), Decimal(0))
    known = [cost * mass_g for cost, mass_g in paid if cost is not None]
    return sum(known, Decimal(0)) / whole_g if whole_g and len(known) == len(paid) else None
