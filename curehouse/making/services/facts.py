"""The only writer of the workshop's own figures of a material."""

from dataclasses import dataclass, fields
from decimal import Decimal
from typing import Any

from django.db import transaction

from curehouse.common.errors import Invalid
from curehouse.core.chemistry.fats import LEAST_VALUE, MOST_VALUE
from curehouse.core.chemistry.liquids import LiquidKind
from curehouse.making.fats import fat_kinds
from curehouse.making.liquids import liquid_kinds
from curehouse.making.models import MaterialFacts
from inventory.models import Material
from inventory.services.entries import clean_text

_SHARE_STEP = Decimal("0.0001")
_VALUE_STEP = Decimal("0.01")
# Which kinds of material have figures that the chemistry asks for.
WITH_FACTS = ("fat", "liquid", "additive", "fragrance", "colour")
LONGEST_ALLERGEN = 300


@dataclass(frozen=True, slots=True)
class FactsEntry:
    """Figures of a material: saponification values in mg KOH per g (of a liquid: its fat's), fractions and shares 0-1.

    ``liquid_kind`` is a `core.chemistry.liquids.LiquidKind` by its value, of a liquid.
    """

    key: str = ""
    saponification_low: Decimal | None = None
    saponification_high: Decimal | None = None
    water_fraction: Decimal | None = None
    fat_fraction: Decimal | None = None
    sugar_fraction: Decimal | None = None
    liquid_kind: str = ""
    most_share: Decimal | None = None
    is_thickened: bool | None = None
    allergen: str = ""
    source: str = ""


def facts_entry(material: Material) -> FactsEntry:
    """Return what is written of a material so far; *material* has its facts at hand."""
    own = getattr(material, "facts", None)
    if own is None:
        return FactsEntry()
    return FactsEntry(**{field.name: getattr(own, field.name) for field in fields(FactsEntry)})


def _fraction(value: Decimal | None, *, field: str, what: str) -> Decimal | None:
    if value is None:
        return None
    if not value.is_finite() or not 0 <= value <= 1:
        raise Invalid("fraction", f"{what} lies between 0 and 100\u00a0%: check the figure.", field=field)
    return value.quantize(_SHARE_STEP)


def _saponification(entry: FactsEntry) -> tuple[Decimal | None, Decimal | None]:
    low, high = entry.saponification_low, entry.saponification_high
    if low is None and high is None:
        return None, None
    low, high = low if low is not None else high, high if high is not None else low
    for value, field in ((low, "saponification_low"), (high, "saponification_high")):
        if value is None or not value.is_finite() or not LEAST_VALUE <= value <= MOST_VALUE:
            raise Invalid(
                "saponification",
                "A saponification value in mg KOH per g lies between 60 and 400: check the figure and its unit.",
                field=field,
            )
    if low is not None and high is not None and low > high:
        raise Invalid("range", "The low end is over the high end: swap the two.", field="saponification_low")
    return (None, None) if low is None or high is None else (low.quantize(_VALUE_STEP), high.quantize(_VALUE_STEP))


def _check_liquid_kind(kind: str, said: str) -> None:
    if said and kind != "liquid":
        raise Invalid("kind", "Only a liquid is water, a milk or a powder of it: leave this empty.", field="liquid_kind")
    if said and said not in {kind.value for kind in LiquidKind}:
        raise Invalid("kind", f"A liquid is one of {', '.join(LiquidKind)}: choose one of them.", field="liquid_kind")


def check_facts(*, kind: str, entry: FactsEntry) -> dict[str, Any]:
    """Return the figures of a material of this kind, clean, or say what is wrong with them."""
    rows = {"fat": fat_kinds(), "liquid": liquid_kinds()}.get(kind, {})
    if kind not in WITH_FACTS:
        raise Invalid("kind", "A material of this kind has no figures that a formula counts with.", field="key")
    if entry.key and entry.key not in rows:
        raise Invalid("key", f"This is not in the list for {Material.Kind(kind).label}: choose one.", field="key")
    _check_liquid_kind(kind, entry.liquid_kind)
    low, high = _saponification(entry)
    water = _fraction(entry.water_fraction, field="water_fraction", what="The water part")
    fat = _fraction(entry.fat_fraction, field="fat_fraction", what="The fat")
    sugar = _fraction(entry.sugar_fraction, field="sugar_fraction", what="The sugar")
    if sum(part for part in (water, fat, sugar) if part is not None) > 1:
        raise Invalid("fraction", "Water, fat and sugar make more than 100\u00a0%: check the figures.", field="fat_fraction")
    most = _fraction(entry.most_share, field="most_share", what="The maximum")
    if most == 0:
        raise Invalid(
            "fraction", "A maximum of 0\u00a0% leaves nothing: empty it if it is not known.", field="most_share"
        )  # fmt: skip
    return {
        "key": entry.key,
        "saponification_low": low,
        "saponification_high": high,
        "water_fraction": water,
        "fat_fraction": fat,
        "sugar_fraction": sugar,
        "liquid_kind": entry.liquid_kind,
        "most_share": most,
        "is_thickened": entry.is_thickened,
        "allergen": clean_text(entry.allergen, field="allergen", what="The allergen", longest=LONGEST_ALLERGEN),
        "source": clean_text(entry.source, field="source", what="The source", longest=200),
    }


@transaction.atomic
def write_facts(*, material: Material, entry: FactsEntry) -> MaterialFacts:
    """Write what a material is made of, over what was written before; empty figures leave the catalogue's."""
    figures = check_facts(kind=material.kind, entry=entry)
    defaults = {"workshop": material.workshop, **figures}
    return MaterialFacts.unscoped.update_or_create(material=material, defaults=defaults)[0]
