"""Materials that are made from others: their recipes, and what is made; what the house says of the stock with it."""

from datetime import datetime

from django.db import transaction
from django.db.models import Q, QuerySet

from curehouse.common.errors import Conflict
from curehouse.core.chemistry.alkali import Alkali
from curehouse.core.chemistry.dissolved import least_dry, stays_dissolved
from curehouse.core.chemistry.solubility import WARM_C, solubility
from curehouse.flows.stock_notices import renew_stock
from curehouse.making.formulas.names import alkali_by_name, is_called_lye, key_called
from curehouse.making.liquids import liquid_kinds
from curehouse.making.models import FormulaLine, FormulaVersion, Reservation
from curehouse.making.services.formulas import RECKONED_ROLES
from curehouse.workshops.actors import Actor
from inventory.blends import recipe_of
from inventory.models import Blend, BlendPart, Making, MakingTake, Material
from inventory.services import blends as _blends
from inventory.services.blends import BlendEntry, MakingEntry
from inventory.services.movements import PAGE


@transaction.atomic
def write_blend(*, actor: Actor, material: Material, entry: BlendEntry, at: datetime) -> Blend:
    """Write how a material is made from others; not one with lye in it that a formula weighs out by itself."""
    blend = _blends.write_blend(actor=actor, material=material, entry=entry, at=at)
    _check_called(blend)
    _check_formulas(actor, blend)
    renew_stock(workshop=actor.workshop, at=at, material_ids=[material.pk])
    return blend


@transaction.atomic
def make_blend(*, actor: Actor, material: Material, entry: MakingEntry, at: datetime, source: str = PAGE) -> Making:
    """Book that a blend was made."""
    making = _blends.make_blend(
        actor=actor, material=material, entry=entry, at=at, source=source, dissolves=_dissolves(actor, material)
    )
    taken = {take.lot.material_id for take in entry.takes if take.lot is not None}
    renew_stock(workshop=actor.workshop, at=at, material_ids={material.pk, *taken})
    return making


def check_renamed(row: Material, name: str) -> None:
    """Refuse a name by which lye would be another one, of what is dissolved here and of what it was dissolved from."""
    named = alkali_by_name(name)
    if row.kind != Material.Kind.LYE or named is alkali_by_name(row.name):
        return
    parts = BlendPart.objects.within(row.workshop).filter(blend__material__kind=Material.Kind.LYE)
    taken = MakingTake.objects.within(row.workshop).filter(making__lot__material__kind=Material.Kind.LYE)
    made_of = [part.material for part in parts.filter(blend__material=row, material__isnull=False).select_related("material")]
    is_other = named is not None and any(alkali_by_name(one.name) is not named for one in made_of)
    if is_other or parts.filter(material=row).exists() or taken.filter(movement__lot__material=row).exists():
        said = f"{row} is dissolved here, and by the name {name} it would be another lye: enter a material of its own for that."
        raise Conflict("other_lye", said, field="name")


def _dissolves(actor: Actor, material: Material) -> float:
    """Return how many grams of the lye that a material is made of a gram of water is counted on to hold."""
    lyes = BlendPart.objects.within(actor.workshop).filter(blend__material=material, material__kind=Material.Kind.LYE)
    part = lyes.select_related("material").order_by("-blend__number").first()
    alkali = None if part is None else alkali_by_name(part.material.name)
    return solubility(alkali or Alkali.NAOH, WARM_C) or 0.0


def _check_called(blend: Blend) -> None:
    """Refuse what is called lye and is none of the storeroom's; of a solution see that it is one lye in water."""
    if not (parts := list(blend.parts.all())):
        return
    if blend.material.kind == Material.Kind.LYE:
        _check_solution(blend, parts)
        return
    called = next((name for name in (blend.material.name, *(part.name for part in parts)) if is_called_lye(name)), "")
    if called:
        said = f"{called} is lye by its name, and lye goes into no mix: leave it out."
        raise Conflict("lye_part", said, field="parts")


def _check_solution(blend: Blend, parts: list[BlendPart]) -> None:
    made, (dry,) = blend.material, (part.material for part in parts if part.material_id is not None)
    (water,) = (part for part in parts if part.material_id is None)
    if key_called(water.name, liquid_kinds()) != "water":
        raise Conflict(
            "not_water", f"Lye is dissolved in water, and {water.name} is none by its name: name water.", field="parts"
        )
    alkali = alkali_by_name(dry.name)
    if alkali is None:
        said = f"Whether {dry} is sodium or potassium hydroxide its name does not say: let its name say it first."
        raise Conflict("which_lye", said, field="parts")
    if alkali_by_name(made.name) not in (None, alkali):
        raise Conflict("other_lye", f"{made} is the other lye by its name than {dry}: choose another.", field="parts")
    (share,) = (share for part, share in recipe_of(blend).shares if part.material_id is not None)
    if not (share < 1 and stays_dissolved(alkali, pure_g=float(share), water_g=float(1 - share))):
        most_g = (solubility(alkali, WARM_C) or 0.0) * 100
        said = (
            f"In 100 g of water at most {most_g:.0f} g of {dry} are counted on to stay dissolved, from 20 °C up (published "
            "tables differ): take more water. What does not dissolve lies at the bottom, and the last of it is far too strong."
        )
        raise Conflict("over_solubility", said, field="parts")
    _check_thin(dry.name, least_dry(alkali), float(share))


def _check_thin(dry: str, least: float | None, share: float) -> None:
    """Refuse what water may dry out of where nothing tells: what is used by mistake and what dries out look alike."""
    if least is not None and share >= least:
        return
    why = "Water dries out of lye that is thinner, unseen: it is then stronger than anybody knows, and the bars may be caustic."
    if least is None:
        said = f"{dry} is not dissolved beforehand: as strong as it would have to be it does not stay dissolved. {why}"
    else:
        said = (
            f"In 100 g of it have to be {100 * least:.0f} g of {dry} at least: take as much water as lye, so strong it draws "
            f"water from the air. {why}"
        )
    raise Conflict("may_dry", f"{said} Weigh it dry for each batch otherwise.", field="parts")


def _check_reckoned(blend: Blend, versions: QuerySet[FormulaVersion]) -> None:
    """Refuse a blend, and a part, that a formula in force reckons with: as a fat, a liquid or an acid."""
    parts = list(blend.parts.all())
    keys = {blend.material_id, *(part.material_id for part in parts if part.material_id is not None)} if parts else set()
    lines = FormulaLine.objects.within(blend.workshop).filter(version__in=versions, role__in=RECKONED_ROLES, material__in=keys)
    line = lines.select_related("material", "version__formula").first()
    if line is not None:
        said = (
            f"{line.version} reckons with {line.material} as its {line.get_role_display()}, and what it reckons of it would "
            "not follow the parts of a recipe: leave it out."
        )
        raise Conflict("reckoned_with", said, field="parts")


def _check_formulas(actor: Actor, blend: Blend) -> None:
    """Refuse where a formula in force reckons with it, or takes what holds lye now: weighed as if dry, or as a line."""
    workshop, material = actor.workshop, blend.material
    versions = FormulaVersion.objects.within(workshop).in_force().filter(formula__retired_at=None)
    _check_reckoned(blend, versions)
    if material.kind != Material.Kind.LYE:
        return
    takes = Q(naoh_from=material.pk) | Q(koh_from=material.pk) | Q(lines__material=material.pk)
    version = versions.filter(takes).select_related("formula").first()
    if version is not None and blend.parts.exists():
        said = (
            f"{version} takes {material} as it is: let it name the dry lye instead. "
            "What is dissolved of that is offered where it is weighed, and a run takes it first by itself."
        )
        raise Conflict("in_formula", said, field="parts")
    promised = Reservation.objects.within(workshop).standing().filter(material=material).select_related("run__formula").first()
    if promised is not None and blend.parts.exists():
        said = (
            f"{promised.run} was planned with {material} as it is: pour it or call it off first, or enter a material of its "
            "own for what is dissolved."
        )
        raise Conflict("in_run", said, field="parts")
