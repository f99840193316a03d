"""What a material is made from, what went into a lot that was made, and where a lot went through blends."""

from dataclasses import dataclass
from decimal import Decimal

from django.urls import reverse

from curehouse.core.chemistry.alkali import Alkali
from curehouse.making.formulas.names import alkali_by_name
from curehouse.making.formulas.solutions import dissolved_of
from curehouse.making.tracing import uses_through
from curehouse.web.access import Visit
from curehouse.web.reading.amounts import about_words, amount_words
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.words import count
from inventory.blends import (
    MIXED_KINDS,
    Recipe,
    holds_lye,
    lots_with,
    lots_within,
    may_be_made,
    parts_down,
    recipe_of,
    recipes_of,
)
from inventory.models import Blend, Lot, LotRuling, Making, MakingTake, Material
from inventory.services.blends import TOO_STRONG

# What a kitchen scale shows; the middle of a strength does not go by it.
_A_GRAM = 1.0


@dataclass(frozen=True, slots=True)
class Line:
    """A line with a name, what is to be said of it, and where it leads."""

    name: str
    note: str
    href: str = ""


@dataclass(frozen=True, slots=True)
class RecipeView:
    """What a material is made from today, and how often it was written otherwise."""

    parts: tuple[Line, ...]
    says: str
    is_made: bool
    holds_lye: bool
    can_be_made: bool


def may_be_mixed(material: Material) -> bool:
    """Return whether a material may be made from others, by its kind."""
    return may_be_made(material) and material.measure == Material.Measure.GRAMS


def _came_in(material: Material) -> bool:
    """Return whether lye came in as such, so that what is dissolved of it is another material."""
    is_lye = material.kind == Material.Kind.LYE
    return is_lye and Lot.objects.within(material.workshop).filter(material=material, made_by__isnull=True).exists()


def parts_offered(visit: Visit, made: Material) -> list[Material]:
    """Return the materials that may go into one: into lye dry lye, into a mix what is mixed."""
    recipes = recipes_of(visit.workshop)
    others = [one for one in Material.objects.within(visit.workshop).in_use() if one != made and may_be_mixed(one)]
    if made.kind == Material.Kind.LYE:
        return [one for one in others if one.kind == Material.Kind.LYE and one.pk not in recipes]
    return [one for one in others if one.kind in MIXED_KINDS and made.pk not in parts_down(recipes, one.pk)]


def shares_words(recipe: Recipe, part_share: Decimal) -> str:
    """Return a part's share of all parts in per cent."""
    return f"{float(part_share * recipe.blend.yielded) * 100:.3g}\u00a0%"


def read_recipe(visit: Visit, material: Material) -> RecipeView:
    """Read what a material is made from; empty where it is not."""
    recipes = recipes_of(visit.workshop)
    recipe = recipes.get(material.pk)
    if recipe is None:
        can_be_made = may_be_mixed(material) and not _came_in(material)
        return RecipeView((), "", is_made=False, holds_lye=False, can_be_made=can_be_made)
    said = [f"recipe {recipe.blend.number}, {Calendar(visit.workshop, visit.at).day(recipe.blend.at)}"]
    if recipe.blend.yielded < 1:
        said.append(f"{float(recipe.blend.yielded) * 100:.4g}\u00a0% of the parts come of it")
    if recipe.blend.keeps_days is not None:
        said.append(f"keeps {count(recipe.blend.keeps_days, 'day')}")
    return RecipeView(
        parts=tuple(
            Line(
                part.name,
                shares_words(recipe, share) + ("" if part.material_id else ", not kept in the storeroom"),
                reverse("web:material", args=[part.material_id]) if part.material_id else "",
            )
            for part, share in recipe.shares
        ),
        says=", ".join(said),
        is_made=True,
        holds_lye=holds_lye(visit.workshop, material, recipes),
        can_be_made=may_be_mixed(material),
    )


def old_recipes(visit: Visit, material: Material) -> list[Line]:
    """Return every recipe of a material, the newest first."""
    calendar = Calendar(visit.workshop, visit.at)
    return [
        Line(f"Recipe {blend.number}", f"{_parts_words(blend)}; {calendar.moment(blend.at)}, {blend.signed_by}")
        for blend in Blend.objects.within(visit.workshop).filter(material=material).newest_first()
    ]


def _parts_words(blend: Blend) -> str:
    parts = sorted(blend.parts.all(), key=lambda part: part.place)
    if not parts:
        return "not made any more"
    said = ", ".join(f"{part.parts.normalize():f} {part.name}" for part in parts)
    return said if blend.yielded == 1 else f"{said}, of which {float(blend.yielded) * 100:.4g}\u00a0% come"


@dataclass(frozen=True, slots=True)
class OriginView:
    """What went into a lot that was made here, by which recipe; and the lots that it went into itself."""

    says: str
    within: tuple[Line, ...]
    into: tuple[Line, ...]
    strength: str


def read_origin(visit: Visit, lot: Lot) -> OriginView:
    """Read it; as many queries as blends stand within each other."""
    unit = visit.workshop.unit
    making = Making.objects.within(visit.workshop).newest_first().filter(lot=lot).first()
    within = lots_within(visit.workshop, [lot.pk])
    into = tuple(
        Line(str(one), amount_words(one.on_hand, one.material, unit) + " here", reverse("web:lot", args=[one.pk]))
        for one in lots_with(visit.workshop, lot)
    )
    if making is None:
        return OriginView("", (), into, "")
    came = amount_words(making.made_g, lot.material, unit)
    moment = Calendar(visit.workshop, visit.at).moment(making.made_at)
    return OriginView(
        says=f"{came} by {making.blend}, {moment}, {making.signed_by}",
        within=tuple(_take_line(one, unit) for rows in within.values() for one in rows),
        into=into,
        strength=_strength(visit, lot),
    )


def _take_line(one: MakingTake, unit: str) -> Line:
    of = f"{about_words(one.amount_g, one.making.lot.material, unit)} into {one.making.lot}".removeprefix("about ")
    if one.movement is None:
        return Line(one.name, f"{of}, not kept in the storeroom")
    return Line(str(one.movement.lot), of, reverse("web:lot", args=[one.movement.lot_id]))


def _strength(visit: Visit, lot: Lot) -> str:
    """Say how strong lye is that was dissolved here, and where it is weighed out; nothing of what is no lye."""
    if lot.material.kind != Material.Kind.LYE:
        return ""
    found = dissolved_of(visit.workshop, [lot]).get(lot.pk)
    if found is None:
        return "How strong it is, nobody knows: something that went into it was taken back. It is weighed out for nothing."
    dry, share = found.solution.dry, float(found.solution.share)
    said = f"In 100 g of it stand {100 * share:.4g} g of {dry}, by what was weighed."
    if found.said is not None:
        said += f" By its own figure it holds {100 * found.said.middle:.4g}\u00a0% of the pure alkali, and that counts."
    if found.solution.missing_g:
        missing = amount_words(found.solution.missing_g, lot.material, visit.workshop.unit)
        said += f" {missing} of it were missing by counts: dried out, it is stronger by that, so less of it is weighed out."
    if found.is_thin(alkali_by_name(dry.name) or Alkali.NAOH, step_g=_A_GRAM):
        return (
            f"{said} So thin, water may have dried out of it unseen, and how strong it is nobody knows: it is weighed out for "
            "nothing. What a batch took of it is booked as ever."
        )
    return (
        f"{said} How much of it stands for the lye of a formula, and how much less water goes in front, the formula’s page "
        "says where it is weighed. Book this lot for the batch: its superfat is then worked out by the lye that is in it."
    )


def why_it_waits(making: Making) -> str:
    """Return why what was to be released waits in quarantine: too strong, or made of a lot that was not in order."""
    why = LotRuling.objects.within(making.workshop).filter(lot=making.lot).order_by("pk").values_list("why", flat=True).first()
    return why if why == TOO_STRONG else "a lot that went in was not in order"


def traced_batches(visit: Visit, lot: Lot) -> list[tuple[str, str]]:
    """Return the batches a lot went into, itself or through blends, as links."""
    uses = uses_through(visit.workshop, lot).select_related("batch__formula").order_by("batch__number")
    batches = {use.batch_id: use.batch for use in uses}
    return [(str(batch), reverse("web:batch", args=[batch.pk])) for batch in batches.values()]


def recipe_now(visit: Visit, material: Material) -> Recipe | None:
    """Return the recipe of a material that is in force, or None."""
    blend = Blend.objects.within(visit.workshop).in_force().filter(material=material).first()
    return None if blend is None else recipe_of(blend)
