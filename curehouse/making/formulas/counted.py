"""Which saponification value counts for each fat of a formula, by what, and how sure that is."""

from dataclasses import dataclass
from enum import StrEnum

from curehouse.core.chemistry.bounds import Bounds
from curehouse.making.fats import fat_kinds
from curehouse.making.formulas.adapter import Planned
from curehouse.making.formulas.entries import Role


class By(StrEnum):
    """What says the value: a certificate (typed, or a lot's), the workshop's own range, or the published list."""

    CERTIFICATE = "certificate"
    OWN = "own"
    LIST = "list"


@dataclass(frozen=True, slots=True)
class Counted:
    """The value that counts for a fat, in mg KOH per g.

    ``source`` is the list's, ``how_sure`` whether it was read there or is from memory; both empty
    where something else than the list says it. ``has_open_lot``: a part of it has no certificate, and
    the range counts with it.
    """

    name: str
    value: Bounds
    by: By
    source: str = ""
    how_sure: str = ""
    has_open_lot: bool = False

    @property
    def said(self) -> str:
        """By what it counts, in words."""
        if self.by is By.CERTIFICATE:
            also = "; of what has none the range counts too" if self.has_open_lot else ""
            return f"by certificate, give or take what the method may be off{also}"
        return "your own range" if self.by is By.OWN else f"{self.source}, {self.how_sure}"


def counted_of(one: Planned) -> list[Counted]:
    """Return what counts for each fat of a plan, in the order of its lines."""
    found = []
    for line, fat in zip(one.entry.of(Role.FAT), one.formula.fats, strict=True):
        kind = fat_kinds().get(line.key)
        if fat.certificate is not None:
            found.append(Counted(line.name, fat.saponification, By.CERTIFICATE, has_open_lot=fat.has_open_lot))
        elif kind is None or fat.published != fat.listed:
            found.append(Counted(line.name, fat.saponification, By.OWN))
        else:
            found.append(Counted(line.name, fat.saponification, By.LIST, kind.source, kind.how_sure))
    return found
