"""Which figures of a lot lie outside of what is published or sold: likelier slips of the pen than figures."""

from decimal import Decimal

from curehouse.common.errors import Invalid
from curehouse.core.chemistry.alkali import Alkali, certified, is_hardly_sold
from curehouse.core.chemistry.bounds import Bounds
from curehouse.core.chemistry.dissolved import is_outside
from curehouse.core.chemistry.fats import certificate_value, lies_outside, own_range
from curehouse.making.fats import fat_kinds
from curehouse.making.formulas.known import counted_in_unit, figure_called, key_by_name
from curehouse.making.formulas.names import alkali_by_name
from curehouse.making.formulas.solutions import Dissolved, dissolved_of
from curehouse.making.models import MaterialFacts
from inventory.models import Lot, Material
from inventory.solutions import is_dissolved

# What a kitchen scale shows; the middle of a strength does not go by it.
_A_GRAM = 1.0


def own_range_of(facts: MaterialFacts | None) -> Bounds | None:
    """Return the workshop's own range of saponification values (mg KOH per g), None where it keeps none."""
    if facts is None or facts.saponification_low is None:
        return None
    return own_range(float(facts.saponification_low), float(facts.saponification_high))


def published_beside(value: Bounds | None, facts: MaterialFacts | None, key: str) -> Bounds | None:
    """Return the range of the list, else the workshop's own, that *value* (mg KOH per g) lies outside of; None of neither."""
    kind = fat_kinds().get(key)
    ranges = (None if kind is None else kind.saponification, own_range_of(facts))
    return next((one for one in ranges if one is not None and value is not None and lies_outside(value, one)), None)


def _what(lot: Lot, name: str) -> str:
    """Return what a figure of this name is counted as of *lot*; nothing where formulas do not count it."""
    what = figure_called(name, lot.material, is_dissolved=is_dissolved(lot))
    of_kind = {Material.Kind.LYE: {"purity"}, Material.Kind.FAT: {"saponification"}}
    return what if what in of_kind.get(lot.material.kind, {"fat", "water", "sugar"}) else ""


def counted_value(lot: Lot, name: str, value: Decimal, unit: str) -> Decimal:
    """Return a figure of a lot's certificate as formulas count it; one in an unknown unit is refused in words."""
    what = _what(lot, name)
    counted = counted_in_unit(what, value, unit) if what else value
    if counted is None:
        usual = "mg KOH/g" if what == "saponification" else "%"
        said = f"{name} is counted in {usual}, and what a figure in {unit} makes of that is not known: type it in {usual}."
        raise Invalid("unit", said, field="unit")
    return counted


def _strength_doubted(one: Dissolved, value: Decimal) -> str:
    """Return why a strength (per cent) of lye that was dissolved here is asked about: it is not what was weighed into it."""
    dry = one.solution.dry
    weighed = one.by_weight(alkali_by_name(dry.name) or Alkali.NAOH, step_g=_A_GRAM)
    if weighed is None or not is_outside(float(value / 100), weighed):
        return ""
    return (
        f"By what was weighed into it {one.solution.lot} holds {100 * weighed.middle:.1f}\u00a0% of {dry}, and not "
        f"{value.normalize():f}\u00a0%. A strength typed too low weighs out too much lye, and the bars may be caustic."
    )


def doubt_of(lot: Lot, name: str, value: Decimal) -> str:
    """Return in words why a figure of a lot's certificate (mg KOH per g, or per cent) is asked about; nothing where not."""
    what, material = _what(lot, name), lot.material
    said = f"{value.normalize():f}"
    if what == "purity" and material.kind == Material.Kind.LYE:
        if lot.pk in (made := dissolved_of(lot.workshop, [lot])):
            return "" if (one := made[lot.pk]) is None else _strength_doubted(one, value)
        alkali = alkali_by_name(material.name) or Alkali.NAOH
        if not is_hardly_sold(alkali, certified(float(value / 100)).middle):
            return ""
        least = f"{100 * alkali.lowest_purity_on_sale:.0f}"
        return (
            f"{material} of {said}\u00a0% is hardly sold: it usually has {least}\u00a0% and more. "
            f"A purity typed too low weighs out too much lye, and the bars may be caustic."
        )
    if what == "saponification" and material.kind == Material.Kind.FAT:
        facts = MaterialFacts.objects.within(lot.workshop).filter(material=material).first()
        key = facts.key if facts is not None and facts.key else key_by_name(material)
        listed = published_beside(certificate_value(float(value)), facts, key)
        if listed is None:
            return ""
        return (
            f"A saponification value of {said} lies outside what is published for {material} "
            f"({listed.low:g} to {listed.high:g} mg KOH per g). A value typed too high weighs out too much lye, "
            f"and the bars may be caustic."
        )
    return ""
