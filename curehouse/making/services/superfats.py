"""The superfat of a batch by the lots that it really took."""

import logging
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from curehouse.common.errors import Invalid
from curehouse.core.chemistry.alkali import Alkali, is_hardly_sold, usual_purity
from curehouse.core.chemistry.bounds import Bounds
from curehouse.core.chemistry.fats import certificate_value
from curehouse.core.chemistry.poured import Part, Pour, pour_from_plain
from curehouse.core.chemistry.superfat import Superfat
from curehouse.making.fats import fat_kinds
from curehouse.making.formulas.by_hand import begun_by_hand, with_booked
from curehouse.making.formulas.known import Known, LotKnown, figures_of
from curehouse.making.formulas.lots import purity_of
from curehouse.making.formulas.names import alkali_by_name
from curehouse.making.formulas.odd import own_range_of, published_beside
from curehouse.making.formulas.pours import pour_found
from curehouse.making.formulas.reading import kept
from curehouse.making.formulas.solutions import Dissolved, dissolved_of
from curehouse.making.formulas.superfats import superfat_values
from curehouse.making.models import Batch, BatchLiquid, BatchUse, FormulaLine, MaterialFacts
from curehouse.making.services.formulas import plan
from curehouse.workshops.models import Scale, Workshop
from inventory.blends import lye_of_blends
from inventory.models import Lot, Material

logger = logging.getLogger(__name__)

# What decides how much lye is too much.
DECIDING = (Material.Kind.FAT, Material.Kind.LYE)
# Grams that a batch took of a lot.
Took = tuple[Lot, Decimal]


@dataclass(frozen=True, slots=True)
class Renewed:
    """What became of a batch: whether its check is a condition now and was before."""

    batch: Batch
    needs_check: bool
    needed_check: bool


@transaction.atomic
def renew_superfat(*, batch: Batch, at: datetime) -> Renewed | None:
    """Work out anew, by the lots that are booked, what the superfat of *batch* (locked by the caller) is.

    A low end below 0, or one that is not known, makes the safety check a condition, and so does a figure
    outside of what is published: typed later, it lifts nothing that only a check can. A batch that was
    entered without a formula is reckoned once all of its fats are booked; None where nothing can be.
    """
    if batch.fats_g is None or batch.lye_g is None:
        return None
    uses = _deciding(batch)
    before, was_known = batch.needs_check, batch.superfat_middle is not None
    if batch.version_id is None:
        whole = _by_hand(batch, uses)
        found = None if whole is None else whole.superfat()
        if found is None and not was_known:
            return None
        is_over = batch.state == Batch.State.CLOSED
        is_doubtful = found is not None and whole is not None and (found.of_fats.low < 0 or whole.is_odd)
        batch.needs_check = batch.check_by_formula or (is_doubtful and not is_over)
        batch.superfat_by_lots = found is not None
    else:
        pour = _reckoned(batch, at)
        taken = _by_hand(batch, uses) if pour is None else pour.with_lots(parts_by_lots(batch.workshop, pour, uses))
        found = None if taken is None else taken.superfat()
        is_odd = taken is not None and taken.is_odd
        batch.needs_check = batch.check_by_formula or found is None or found.of_fats.low < 0 or is_odd
        batch.superfat_by_lots = bool(uses)
    for name, value in superfat_values(found).items():
        setattr(batch, name, value)
    fields = ["needs_check", "superfat_by_lots", "reckoned", *superfat_values(None)]
    batch.save(update_fields=fields)
    logger.info("superfat renewed: workshop=%s batch=%s needs_check=%s", batch.workshop_id, batch.pk, batch.needs_check)
    return Renewed(batch, batch.needs_check, before)


def superfat_today(batch: Batch) -> Superfat | None:
    """Return the superfat of *batch* with the ranges that its fats have today, all else as it is kept; writes nothing.

    None where nothing is kept that could be worked out anew.
    """
    if batch.reckoned is None:
        return None
    pour = pour_from_plain(batch.reckoned)
    keys = {part.material for part in pour.fats if part.material is not None}
    facts = {one.material_id: one for one in MaterialFacts.objects.within(batch.workshop).filter(material__in=keys)}
    fats = tuple(
        replace(part, value=_range(part.material, part.key, Known(facts))) if part.is_certified is False else part
        for part in pour.fats
    )
    return replace(pour, fats=fats).with_lots(parts_by_lots(batch.workshop, pour, _deciding(batch))).superfat()


@transaction.atomic
def keep_weighed(*, batch: Batch, pour: Pour) -> Batch:
    """Keep with *batch* (locked by the caller, or new) what was weighed at its pour in place of what its formula says."""
    batch.reckoned = pour.as_plain()
    batch.save(update_fields=["reckoned"])
    return batch


def _deciding(batch: Batch) -> list[Took]:
    """Return what *batch* took of fats and lye; not a fat that stands in its version as something else alone, such as wax.

    Of what holds lye and is none, which older versions made, it took the lye that went into that lot, pro rata.
    """
    uses = BatchUse.objects.within(batch.workshop).filter(batch=batch).in_force().order_by("pk")
    whole = [(use.movement.lot, -use.movement.amount) for use in uses]
    lye = [one for one in whole if one[0].material.kind == Material.Kind.LYE]
    others = [one for one in whole if one[0].material.kind != Material.Kind.LYE]
    taken = [*lye, *lye_of_blends(batch.workshop, others)]
    found = [(lot, grams) for lot, grams in taken if lot.material.kind in DECIDING]
    fats = {lot.material_id for lot, _grams in found if lot.material.kind == Material.Kind.FAT}
    if batch.version_id is None or not fats:
        return found
    roles: dict[int, set[str]] = {}
    lines = FormulaLine.objects.within(batch.workshop).filter(version=batch.version_id, material__in=fats)
    for key, role in lines.values_list("material_id", "role"):
        roles.setdefault(key, set()).add(role)
    besides = {key for key, its in roles.items() if FormulaLine.Role.FAT not in its}
    return [(lot, grams) for lot, grams in found if lot.material_id not in besides]


def _by_hand(batch: Batch, uses: Sequence[Took]) -> Pour | None:
    liquids = list(BatchLiquid.objects.within(batch.workshop).filter(batch=batch))
    pour = begun_by_hand(batch, liquids=liquids, scales=list(Scale.objects.within(batch.workshop).in_use()))
    return with_booked(pour, parts_by_lots(batch.workshop, pour, uses), fats_g=float(batch.fats_g))


def _reckoned(batch: Batch, at: datetime) -> Pour | None:
    """Return what was reckoned at the pour; of a batch of which none is kept what is reckoned today, None where nothing can."""
    if batch.reckoned is None:
        try:
            one = plan(workshop=batch.workshop, entry=kept(batch.version).entry, at=at)
            pour = pour_found(one, fats_g=batch.fats_g, lye_g=batch.lye_g, koh_g=batch.koh_g).pour
        except Invalid:
            return None
        batch.reckoned = pour.as_plain()
    return pour_from_plain(batch.reckoned)


def parts_by_lots(workshop: Workshop, pour: Pour, uses: Sequence[Took]) -> list[tuple[int | None, Part]]:
    """Return what *uses* of fats and lye are by the lots they are of: each with which part of *pour* it is, None of none."""
    lots = figures_of(workshop, [lot for lot, _grams in uses])
    dissolved = dissolved_of(workshop, [lot for lot, _grams in uses if lot.material.kind == Material.Kind.LYE])
    materials = {lot.material_id for lot, _grams in uses}
    facts = {one.material_id: one for one in MaterialFacts.objects.within(workshop).filter(material__in=materials)}
    known = Known(facts)
    found = []
    for one, grams in uses:
        lot, mass_g = lots[one.pk], float(grams)
        if one.pk in dissolved:
            found.append(_dissolved_part(pour, dissolved[one.pk], one, mass_g))
            continue
        is_lye = lot.lot.material.kind == Material.Kind.LYE
        found.append(_lye_part(pour, lot, mass_g) if is_lye else _fat_part(pour, lot, mass_g, known))
    return found


def _fat_part(pour: Pour, lot: LotKnown, mass_g: float, known: Known) -> tuple[int | None, Part]:
    material = lot.lot.material
    key = known.key_of(material)
    numbers = [number for number, part in enumerate(pour.fats) if part.material == material.pk]
    numbers += [number for number, part in enumerate(pour.fats) if part.material is None and key and part.key == key]
    number = numbers[0] if numbers else None
    said = lot.figures.get("saponification")
    if said is not None:
        value = certificate_value(float(said))
    elif number is not None and pour.fats[number].is_typed:
        value = pour.fats[number].value
    else:
        value = _range(material.pk, key, known)
    published = published_beside(value, known.facts.get(material.pk), key)
    return number, Part(mass_g, value, material=material.pk, key=key, published=published)


def _range(material: int | None, key: str, known: Known) -> Bounds | None:
    own, kind = own_range_of(None if material is None else known.facts.get(material)), fat_kinds().get(key)
    return own or (None if kind is None else kind.saponification)


def _lye_part(pour: Pour, lot: LotKnown, mass_g: float) -> tuple[int | None, Part]:
    material = lot.lot.material
    number, alkali = _place_of(pour, material)
    value = purity_of(alkali, lot)
    if "purity" not in lot.figures and number is not None and pour.lye[number].is_typed:
        value = pour.lye[number].value
    is_odd = value is not None and is_hardly_sold(alkali, value.middle)
    return number, Part(mass_g, value, alkali, material=material.pk, published=usual_purity(alkali) if is_odd else None)


def _dissolved_part(pour: Pour, one: Dissolved | None, lot: Lot, mass_g: float) -> tuple[int | None, Part]:
    """Return lye that was dissolved beforehand as the dry lye in it; nothing is known of it where nobody knows that."""
    if one is None:
        number, alkali = _place_of(pour, lot.material)
        return number, Part(mass_g, None, alkali, material=lot.material_id)
    dry, share = one.solution.dry, float(one.solution.share)
    number, alkali = _place_of(pour, dry)
    typed = pour.lye[number].value if number is not None and pour.lye[number].is_typed else None
    # The scale on which it was made is not kept: the coarsest of the bench may have been.
    step_g = pour.scales.step_g
    strong, doubted = (say(alkali, step_g=step_g, typed=typed, used=True) for say in (one.strong, one.doubted))
    per_dry_g = 1 / share
    return number, Part(
        mass_g * share,
        None if strong is None else strong.times(per_dry_g),
        alkali,
        material=dry.pk,
        published=None if doubted is None else doubted.times(per_dry_g),
    )


def _place_of(pour: Pour, material: Material) -> tuple[int | None, Alkali]:
    """Return which part of a pour a lye is, and which alkali: as its formula names it, else by its name."""
    numbers = [number for number, part in enumerate(pour.lye) if part.material == material.pk]
    if numbers:
        return numbers[0], pour.lye[numbers[0]].alkali or Alkali.NAOH
    alkali = _alkali_of(material)
    return next((number for number, part in enumerate(pour.lye) if part.alkali is alkali), None), alkali


def _alkali_of(material: Material) -> Alkali:
    """Return what a lye is that the formula does not name: by its name, else what brings more alkali of those it may be."""
    return alkali_by_name(material.name) or Alkali.NAOH
