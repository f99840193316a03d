"""What the lines of a formula are called, where that says something else than what they count as."""

from collections.abc import Iterator, Sequence
from decimal import Decimal

from curehouse.core.chemistry.acids import Acid
from curehouse.core.chemistry.named import Aside, Misnamed
from curehouse.making.fats import FatKind, fat_kinds
from curehouse.making.formulas.entries import LineEntry, Role
from curehouse.making.formulas.names import (
    Rows,
    acid_called,
    called_otherwise,
    is_called_alkali,
    is_called_powder,
    or_words,
)
from curehouse.making.liquids import Kind, LiquidKind, liquid_kinds


def rows_of_all() -> Rows:
    """Return all fats and liquids of the list by their keys."""
    return {**fat_kinds(), **liquid_kinds()}


def row_in_words(row: FatKind | LiquidKind) -> str:
    """Return a row of the list with the figure that counts: ``olive oil (184 to 196 mg KOH per g)``."""
    return f"{row.name} ({_figures(row)}{' mg KOH per g' if isinstance(row, FatKind) else ''})"


def _figures(row: FatKind | LiquidKind) -> str:
    if isinstance(row, FatKind):
        return f"{row.saponification_low:f} to {row.saponification_high:f}"
    return f"{(100 * row.water_fraction).normalize():f} % water"


def called_like(name: str, key: str) -> str:
    """Return in words what a fat or liquid is called like that is to be the row *key*; nothing where its name agrees."""
    rows = rows_of_all()
    others = called_otherwise(name, key, rows)
    if others:
        return or_words([row_in_words(rows[one]) for one in others])
    row = rows.get(key)
    is_fluid = isinstance(row, LiquidKind) and row.kind is not Kind.POWDER
    return "a powder, which brings hardly any water" if is_fluid and is_called_powder(name) else ""


def key_doubt(name: str, key: str) -> str:
    """Return why a material is asked about that is to be the row *key*; nothing where its name does not say otherwise."""
    row = rows_of_all().get(key)
    other = called_like(name, key) if row is not None else ""
    return f"{name} is called like {other}, and is to count as {row_in_words(row)}." if other and row is not None else ""


def misnamed_of(lines: Sequence[LineEntry]) -> Iterator[Misnamed]:
    """Return the fats and liquids that are called like another than the one they count as."""
    rows = rows_of_all()
    for line in lines:
        if line.role not in (Role.FAT, Role.LIQUID) or line.key not in rows:
            continue
        if other := called_like(line.name, line.key):
            found = [rows[one] for one in called_otherwise(line.name, line.key, rows)]
            values = [row.saponification for row in found if isinstance(row, FatKind)]
            value = values[0] if len(values) == 1 and line.role == Role.FAT else None
            yield Misnamed(line.name, f"{line.key} {_figures(rows[line.key])}", row_in_words(rows[line.key]), other, value)


def asides_of(pairs: Sequence[tuple[LineEntry, Decimal]]) -> Iterator[Aside]:
    """Return what is called like an acid or an alkali and counts as neither, with its grams."""
    for line, mass_g in pairs:
        acid = acid_called(line.name) if line.role in (Role.ADDITIVE, Role.LIQUID) else None
        if acid is not None:
            yield Aside(line.name, float(mass_g), Acid(acid.key, float(mass_g), strength=acid.strength))
        elif line.role not in (Role.ACID, Role.FRAGRANCE) and is_called_alkali(line.name):
            yield Aside(line.name, float(mass_g))
