"""How a batch begins from a version of a formula: in which size, with which masses."""

from decimal import ROUND_DOWN, Decimal
from typing import Any

from curehouse.common.errors import DomainError
from curehouse.common.units import GRAM, GRAMS_PER_OUNCE, LARGEST_G, parse_number
from curehouse.core.chemistry.alkali import Alkali
from curehouse.core.chemistry.formula import planned_lye
from curehouse.making.formulas.entries import LineEntry, Role
from curehouse.making.formulas.reading import kept
from curehouse.making.formulas.sizes import Size, in_size
from curehouse.making.models import FormulaVersion
from curehouse.making.services.formulas import judged, plan, unread_values
from curehouse.making.services.pours import lye_today_said
from curehouse.web.access import Visit
from curehouse.web.forms.fields import exactly
from curehouse.web.forms.liquids import LONGEST_NAME

_STEP = Decimal("0.001")


def lye_figure(grams: Decimal, unit: str) -> str:
    """Return lye to be weighed in *unit*, to a thousandth of it: cut off behind that, never rounded up."""
    amount = grams if unit == GRAM else grams / GRAMS_PER_OUNCE
    shown = f"{amount.quantize(_STEP, rounding=ROUND_DOWN):f}"
    return shown.rstrip("0").rstrip(".") if unit == GRAM else shown


def lye_grams(grams: float) -> Decimal:
    """Return a mass of lye as it is kept, to the milligram and never rounded up."""
    return Decimal(str(grams)).quantize(_STEP, rounding=ROUND_DOWN)


def grams_of(text: str) -> Decimal | None:
    """Return the grams that stand in an address, or None where they are none."""
    try:
        grams = parse_number(text, field="fats_g", what="The fats")
    except DomainError:
        return None
    return grams if 0 < grams <= LARGEST_G else None


def start_from(visit: Visit, version: FormulaVersion, fats_g: Decimal | None) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """Return what a batch of *version* begins with: fats, lye and liquids, in its own size or with so many grams of fats."""
    one = in_size(
        plan(workshop=visit.workshop, entry=kept(version).entry, at=visit.at),
        Size(fats_g=version.fats_g if fats_g is None else fats_g),
    )
    pairs = list(zip(one.entry.lines, one.masses_g, strict=True))
    fats = sum((mass for line, mass in pairs if line.role == Role.FAT), Decimal(0))
    start = {
        "formula_name": version.formula.name,
        "version": str(version.pk),
        "fats_g": exactly(fats, visit.workshop.unit, rounding=ROUND_DOWN),
    }
    found = judged(one)
    if not found.is_refused and not unread_values(found, one.entry.confirmed):
        fields = {Alkali.NAOH: "lye_g", Alkali.KOH: "koh_g"}
        lye = planned_lye(one.formula)
        # Shown over the form, and typed into none of its fields.
        start["lots_of_today"] = lye_today_said(version, one, lye, fats, at=visit.at)
        for amount in lye:
            start[fields[amount.alkali]] = lye_figure(lye_grams(amount.weigh_g), visit.workshop.unit)
    masses = [mass for line, mass in pairs if line.role == Role.LIQUID]
    liquids = zip(one.entry.of(Role.LIQUID), masses, one.formula.liquids, strict=True)
    return start, [_row(line, mass, liquid.made_of.water.middle) for line, mass, liquid in liquids]


def _row(line: LineEntry, mass_g: Decimal, water: float) -> dict[str, Any]:
    """Return a liquid of a formula as the row of a batch; one that is in no list by its name, with its water."""
    own = None if line.water_fraction is None else line.water_fraction * 100
    if not line.key:
        own = Decimal(str(round(100 * water, 2)))
    return {"kind": line.key or line.name[:LONGEST_NAME], "mass_g": mass_g, "place": line.goes_in, "water_pct": own}
