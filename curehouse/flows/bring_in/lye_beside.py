"""The lye that a list names for a formula, beside the lye that is worked out for it."""

from collections.abc import Sequence
from decimal import Decimal

from curehouse.common.units import show_mass
from curehouse.flows.bring_in.work import Work
from curehouse.making.formulas.entries import FormulaEntry, Per
from curehouse.making.services.formulas import judged, plan, unread_values

# Within this part two amounts of lye are the same: a scale's step, or a figure that another table gives otherwise.
_SAME = 0.005
_MORE = "It may be too much for these fats: look at its superfat and its purity before you pour it as the file says."
_LESS = "Its superfat was higher than the file says, or its figures were others."


def lye_beside(work: Work, entry: FormulaEntry, own: Sequence[tuple[str, Decimal]]) -> str:
    """Return in words how the list's *own* lye (grams, or shares of the fats) lies beside what is worked out.

    Nobody is to weigh another amount than so far unaware. Nothing where none can be worked out, or by a value that
    is doubted and nobody read yet.
    """
    found = judged(plan(workshop=work.workshop, entry=entry, at=work.at))
    figures = found.figures
    if figures is None or not figures.lye_g or found.is_refused or unread_values(found, ()):
        return ""
    fats_g = Decimal(str(figures.fats_g))
    file_g = sum((amount * (fats_g if per == Per.FATS else 1) for per, amount in own), Decimal(0))
    unit, more = work.workshop.unit, float(file_g) / figures.lye_g - 1
    reckoned = f"{show_mass(figures.lye_g, unit)} are worked out"
    said = f"{entry.name}: the file has {show_mass(file_g, unit)} of lye, and {reckoned}"
    if abs(more) < _SAME:
        return f"{said}: the same."
    than, why = ("more", _MORE) if more > 0 else ("less", _LESS)
    return f"{said}: the file has {100 * abs(more):.1f}\u00a0% {than}. {why}"
