"""What a line of a formula has and its row on the page does not show: it goes along unseen."""

import json
from collections.abc import Collection, Mapping
from decimal import Decimal
from typing import Any

from curehouse.making.formulas.entries import LineEntry
from inventory.models import Material

# A line is of a row of the catalogue, of a material, or, from the API or a file, just of its own name.
OF_CATALOGUE, OF_STOREROOM, BY_NAME = "k:", "m:", "n:"
_FIGURES = ("strength", "saponification", "water_fraction", "fat_fraction", "most_share")


def kept_before(sent: str, materials: Mapping[int, Material]) -> dict[str, Any] | None:
    """Return what a row kept that it does not show (`kept_beside`), read back; None where it cannot be read."""
    try:
        said = dict(json.loads(sent).items())
        figures = {name: None if said[name] is None else Decimal(said[name]) for name in _FIGURES if name in said}
        texts = {name: str(said[name]) for name in ("what", "key", "name", "form") if name in said}
        if "material" in said:
            figures["material"] = materials[int(said["material"])]
        return {**texts, **figures}
    except (ValueError, TypeError, AttributeError, KeyError, ArithmeticError):
        return None


def kept_beside(line: LineEntry, what: str, shows: Collection[str]) -> str:
    """Return as text what a line has and its row does not show; *shows* are the names of what it shows."""
    has: dict[str, Any] = {name: getattr(line, name) for name in (*_FIGURES, "form", "name")}
    kept = {name: str(value) for name, value in has.items() if value not in (None, "") and name not in shows}
    if line.key and what != f"{OF_CATALOGUE}{line.key}":
        kept["key"] = line.key
    if line.material is not None and what != f"{OF_STOREROOM}{line.material.pk}":
        kept["material"] = str(line.material.pk)
    return json.dumps({"what": what, **kept})
