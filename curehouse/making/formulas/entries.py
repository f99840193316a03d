"""A formula as it is typed, and a version that is kept as it was typed.

Amounts are grams, or shares 0-1 of the fats or of the liquid; which of them a line says itself.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from decimal import Decimal
from typing import Any

from curehouse.making.models import FormulaLine, FormulaVersion
from curehouse.workshops.models import Scale
from inventory.models import Material

Role, Per, GoesIn = FormulaLine.Role, FormulaLine.Per, FormulaLine.GoesIn
USUAL_FRONT_C = Decimal(25)


@dataclass(frozen=True, slots=True)
class LineEntry:
    """One thing that goes in: a row of the catalogue (``key``), a material of the storeroom, or a name.

    ``saponification`` (mg KOH per g) is a certificate's, ``water_fraction`` and ``fat_fraction`` are
    measured, ``most_share`` is a fragrance's maximum by its supplier.
    """

    role: str
    key: str = ""
    material: Material | None = None
    name: str = ""
    per: str = Per.GRAMS
    amount: Decimal | None = None
    goes_in: str = ""
    form: str = ""
    strength: Decimal | None = None
    saponification: Decimal | None = None
    water_fraction: Decimal | None = None
    fat_fraction: Decimal | None = None
    most_share: Decimal | None = None
    is_thickened: bool | None = None


@dataclass(frozen=True, slots=True)
class FormulaEntry:
    """A formula as entered.

    ``fats_g`` says the size where the fats are shares; ``liquid`` is the total, in grams or, where
    ``liquid_per`` says so, a share of the fats. ``naoh_share`` is that of the equivalents (1: no
    KOH), ``min_days`` the minimum cure where it differs from the workshop's. ``confirmed`` is what a
    person said they read: findings with their figures (`findings.Finding.read_as`).
    """

    name: str
    lines: Sequence[LineEntry]
    superfat: Decimal
    liquid: Decimal
    liquid_per: str = Per.GRAMS
    fats_g: Decimal | None = None
    naoh_share: Decimal = Decimal(1)
    naoh_purity: Decimal | None = None
    koh_purity: Decimal | None = None
    naoh_from: Material | None = None
    koh_from: Material | None = None
    front_c: Decimal = USUAL_FRONT_C
    scale: Scale | None = None
    fine_scale: Scale | None = None
    note: str = ""
    min_days: int | None = None
    confirmed: Sequence[str] = ()

    def of(self, role: str) -> list[LineEntry]:
        """Return the lines of one role, in their order."""
        return [line for line in self.lines if line.role == role]


def entry_of(version: FormulaVersion, lines: Sequence[FormulaLine]) -> FormulaEntry:
    """Return a version as it was typed; *lines* are its own, with their materials at hand."""
    in_shares = any(line.role == Role.FAT and line.per == Per.FATS for line in lines)
    return FormulaEntry(
        name=version.formula.name,
        lines=[_line_of(line) for line in lines],
        superfat=version.superfat,
        liquid=version.liquid_share if version.liquid_g is None else version.liquid_g,
        liquid_per=Per.FATS if version.liquid_g is None else Per.GRAMS,
        fats_g=version.fats_g if in_shares else None,
        naoh_share=version.naoh_share,
        naoh_purity=version.naoh_purity,
        koh_purity=version.koh_purity,
        naoh_from=version.naoh_from,
        koh_from=version.koh_from,
        front_c=version.front_c,
        scale=version.scale,
        fine_scale=version.fine_scale,
        note=version.note,
        min_days=version.formula.min_days,
        confirmed=tuple(version.confirmed),
    )


def line_values(line: LineEntry | FormulaLine) -> dict[str, Any]:
    """Return what a line says, typed or kept, by the name of the field."""
    return {one.name: getattr(line, one.name) for one in fields(LineEntry)}


def _line_of(line: FormulaLine) -> LineEntry:
    return LineEntry(**line_values(line))
