"""Versions read back with their lines, as every door wants them."""

from collections.abc import Sequence
from dataclasses import dataclass

from curehouse.making.formulas.entries import FormulaEntry, entry_of
from curehouse.making.models import Formula, FormulaLine, FormulaVersion
from curehouse.workshops.models import Workshop

_WITH = ("formula", "naoh_from", "koh_from", "scale", "fine_scale", "by_user", "by_device")


@dataclass(frozen=True, slots=True)
class Kept:
    """A version with its lines, and as it was typed."""

    version: FormulaVersion
    lines: Sequence[FormulaLine]
    entry: FormulaEntry


def kept(version: FormulaVersion) -> Kept:
    """Return *version* with its lines; one query."""
    lines = list(
        FormulaLine.objects.within(version.workshop).filter(version=version).select_related("material").order_by("place")
    )
    return Kept(version, lines, entry_of(version, lines))


def version_here(workshop: Workshop, pk: int) -> FormulaVersion:
    """Return a version of the workshop; a stranger's is not here."""
    version = FormulaVersion.objects.within(workshop).select_related(*_WITH).with_batches().get_here(pk, what="version")
    # It is at hand: nothing that asks the version for it needs a question of its own.
    version.workshop = version.formula.workshop = workshop
    return version


def newest_version(formula: Formula) -> FormulaVersion | None:
    """Return the version of a formula that is in force, or None where it has none."""
    found = FormulaVersion.objects.within(formula.workshop).filter(formula=formula)
    return found.select_related(*_WITH).with_batches().newest_first().first()
