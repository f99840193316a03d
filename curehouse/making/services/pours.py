"""What holds a pour to the version of the formula it was made from."""

from datetime import datetime
from decimal import ROUND_DOWN, Decimal

from curehouse.common.errors import Conflict, Invalid
from curehouse.common.units import SMALLEST_G, show_mass
from curehouse.making.formulas.pours import PourFound, pour_found
from curehouse.making.formulas.reading import kept
from curehouse.making.models import Formula, FormulaVersion
from curehouse.making.services.formulas import lock_formula, plan
from curehouse.workshops.models import Workshop

# With less than this part of the lye by its formula a batch is no soap: a slip of the pen.
_LEAST_PART = 0.7


def formula_to_pour(*, workshop: Workshop, version: FormulaVersion) -> Formula:
    """Return the formula of *version*, locked so that it is not written anew before the pour is kept."""
    formula = lock_formula(version.formula)
    if not FormulaVersion.objects.within(workshop).in_force().filter(pk=version.pk).exists():
        raise Conflict(
            "version_replaced",
            f"{version} was written anew meanwhile: begin the batch from the formula again.",
            field="version",
        )
    return formula


def held_to_version(
    *, workshop: Workshop, version: FormulaVersion, fats_g: Decimal, lye_g: Decimal, is_confirmed: bool, at: datetime
) -> tuple[bool, bool]:
    """Return whether a person confirmed the lye, and whether a check must be passed before bars leave.

    Raises ``Conflict`` (lye_doubtful) for lye that is too much for these fats, or far too little,
    which nobody confirmed: recording never blocks what was poured, but a slip is asked about.
    """
    if lye_g >= fats_g:
        raise Invalid(
            "lye_over_fats", "More lye than fats: check both weights before anyone touches this batch.", field="lye_g"
        )
    found = pour_found(plan(workshop=workshop, entry=kept(version).entry, at=at), fats_g=fats_g, lye_g=lye_g)
    if found is None:
        return False, True
    is_doubtful = found.is_caustic or float(lye_g) < found.lye_by_formula_g * _LEAST_PART
    if is_doubtful and not is_confirmed:
        raise _doubt(found, version, fats_g, lye_g, workshop.unit)
    return is_doubtful, found.needs_check


def _doubt(found: PourFound, version: FormulaVersion, fats_g: Decimal, lye_g: Decimal, unit: str) -> Conflict:
    meant_g = Decimal(str(found.lye_by_formula_g)).quantize(SMALLEST_G, rounding=ROUND_DOWN)
    said = "more than these fats can take" if found.is_caustic else "far less than these fats have"
    return Conflict(
        "lye_doubtful",
        f"{show_mass(lye_g, unit)} of lye is {said}: by {version} {show_mass(fats_g, unit)} of fats have "
        f"{show_mass(meant_g, unit)}. Check both weights before anyone touches this batch.",
        field="lye_g",
        lye_g=f"{lye_g:.3f}",
        guess_g=f"{meant_g}",
        is_swapped=False,
        by_formula=True,
    )
