"""What a line of a formula has to be named for on the label: milk, nuts, parts of a scent."""

import re
from collections.abc import Sequence

from curehouse.core.chemistry.liquids import LiquidKind
from curehouse.making.fats import fat_kinds
from curehouse.making.formulas.entries import LineEntry, Role
from curehouse.making.formulas.known import Known
from curehouse.making.formulas.names import allergens_called, key_called
from curehouse.making.liquids import liquid_kinds

_MILK = "milk"


def label_allergens(lines: Sequence[LineEntry], known: Known) -> tuple[str, ...]:
    """Return what the lines of a formula have to be named for, each once however it is written."""
    said: dict[str, str] = {}
    for line in lines:
        for word in allergens_of(line, known):
            said.setdefault(word.casefold(), word)
    return tuple(said[key] for key in sorted(said))


def allergens_of(line: LineEntry, known: Known) -> list[str]:
    """Return the allergens of a line, whatever it goes in as.

    They are the workshop's own words on its material; where there are none, those of the catalogue's row
    that it is, by key or by name; and an own liquid that is milk, or powder of it, is milk.
    """
    own = known.of_line(line)
    said = own.allergen if own is not None and own.allergen else _listed(line, known)
    return [word for word in (" ".join(one.split()) for one in re.split("[,;]", said)) if word]


def _listed(line: LineEntry, known: Known) -> str:
    rows = {**fat_kinds(), **liquid_kinds()}
    key = line.key if line.role in (Role.FAT, Role.LIQUID) else ""
    if not key and line.material is not None:
        key = known.key_of(line.material)
    row = rows.get(key or key_called(line.name, rows))
    if row is not None:
        return row.allergen
    own = known.of_line(line)
    if own is not None and own.liquid_kind in (LiquidKind.MILK, LiquidKind.POWDER):
        return _MILK
    # A scent or a colour is called after much that is not in it.
    return allergens_called(line.name, rows) if line.role in (Role.FAT, Role.LIQUID, Role.ADDITIVE) else ""
