"""Materials that are made from others: their recipes, and what is made; what the house says of the stock with it."""

from datetime import datetime

from django.db import transaction
from django.db.models import Q, QuerySet

from curehouse.common.errors import Conflict
from curehouse.flows.stock_notices import renew_stock
from curehouse.making.formulas.names import is_called_lye
from curehouse.making.models import FormulaLine, FormulaVersion
from curehouse.making.services.formulas import RECKONED_ROLES
from curehouse.workshops.actors import Actor
from inventory.blends import holds_lye, recipes_of
from inventory.models import Blend, Making, Material
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
    making = _blends.make_blend(actor=actor, material=material, entry=entry, at=at, source=source)
    taken = {take.lot.material_id for take in entry.takes if take.lot is not None}
    renew_stock(workshop=actor.workshop, at=at, material_ids={material.pk, *taken})
    return making


def _check_called(blend: Blend) -> None:
    """Refuse what is called lye, of whatever kind it is written down, and by its name alone too."""
    if _blends.TAKES_LYE or not (parts := list(blend.parts.all())):
        return
    called = next((name for name in (blend.material.name, *(part.name for part in parts)) if is_called_lye(name)), "")
    if called:
        raise Conflict("lye_part", f"{called} is lye by its name. {_blends.KEEP_LYE_DRY}", field="parts")


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
    if material.kind != Material.Kind.LYE and not holds_lye(workshop, material, recipes_of(workshop)):
        return
    takes = Q(naoh_from=material.pk) | Q(koh_from=material.pk) | Q(lines__material=material.pk)
    version = versions.filter(takes).select_related("formula").first()
    if version is not None and blend.parts.exists():
        said = (
            f"{version} takes {material} as it is: let it name the dry lye instead. "
            "A run takes what is dissolved of it first by itself."
        )
        raise Conflict("in_formula", said, field="parts")
