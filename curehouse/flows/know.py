"""What is known of a material is changed: whoever does it reads first which poured versions ask for other lye then."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import fields
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from curehouse.common.errors import Conflict
from curehouse.common.locking import lock_rows
from curehouse.making.fats import fat_kinds
from curehouse.making.formulas.called import key_doubt
from curehouse.making.formulas.moved import MOST_NAMED, Move, as_data, moves, moves_said, poured_lye, read_as
from curehouse.making.liquids import liquid_kinds
from curehouse.making.models import MaterialFacts
from curehouse.making.services.facts import FactsEntry, check_facts, facts_entry, write_facts
from curehouse.workshops.models import Workshop
from inventory.models import Material

_MOST_MATERIALS = 5
Tell = Callable[[str], None]

_FIGURES = {
    "key": "it is",
    "saponification_low": "saponification value, from",
    "saponification_high": "saponification value, up to",
    "water_fraction": "water part",
    "fat_fraction": "fat",
    "sugar_fraction": "sugar",
    "liquid_kind": "what it is",
    "most_share": "maximum",
    "is_thickened": "thickeners",
    "allergen": "allergens",
    "source": "source",
}


def tell_nobody(_said: str) -> None:
    """Leave unsaid what the trail would say."""


def lock_known(workshop: Workshop, key: int) -> Material:
    """Return a material with what is known of it, locked: two edits of one are not read side by side."""
    return lock_rows(Material.objects.within(workshop).select_related("facts"), [key])[key]


@contextmanager
def lye_held(*, workshop: Workshop, material: Material, at: datetime, lye_confirmed: str) -> Iterator[list[Move]]:
    """Let an edit of *material* through whose moves of poured versions' lye were read.

    Within the caller's transaction, which has the material locked (`lock_known`). What is yielded holds the
    moves once the edit is done. Raises ``Conflict`` (poured_lye_moves) with the versions and their figures
    unless *lye_confirmed* is the ``confirm`` of just these.
    """
    before = poured_lye(workshop=workshop, materials=[material.pk], at=at)
    found: list[Move] = []
    yield found
    if not before:
        return
    found += moves(before, poured_lye(workshop=workshop, materials=[material.pk], at=at))
    if found and lye_confirmed != (confirm := read_as(found)):
        again = "It is not what you read before any more. " if lye_confirmed else ""
        many = "a version that was poured asks" if len(found) == 1 else f"{len(found)} versions that were poured ask"
        said = (
            f"{again}With this {many} for other lye from now on. {moves_said(found, workshop.unit)}. "
            "Batches that were poured stay as they are, and their next pour takes the new amount. "
            "Nothing is kept yet: confirm it if it is so."
        )
        raise Conflict(
            "poured_lye_moves",
            said,
            field="lye_confirmed",
            confirm=confirm,
            versions=as_data(found),
            more=max(0, len(found) - MOST_NAMED),
        )


@transaction.atomic
def know_material(
    *,
    material: Material,
    entry: FactsEntry,
    at: datetime,
    lye_confirmed: str = "",
    key_confirmed: str = "",
    tell: Tell = tell_nobody,
) -> MaterialFacts:
    """Write what a material is made of; *tell* hears for the trail what was changed, with old and new.

    Raises as `lye_held`, and ``Conflict`` (key_doubtful) for a row of the list that the material is not called
    like, unless *key_confirmed* is that row.
    """
    workshop = material.workshop
    row = lock_known(workshop, material.pk)
    before = facts_entry(row)
    if entry.key not in (before.key, key_confirmed):
        _ask_about_key(row, entry.key)
    with lye_held(workshop=workshop, material=row, at=at, lye_confirmed=lye_confirmed) as found:
        facts = write_facts(material=row, entry=entry)
    now = FactsEntry(**{one.name: getattr(facts, one.name) for one in fields(FactsEntry)})
    changed = changes_said(material, before, now)
    tell(". ".join(one for one in (f"{material}: {changed}" if changed else "", moves_said(found, workshop.unit)) if one))
    return facts


def _ask_about_key(material: Material, key: str) -> None:
    if not (other := key_doubt(material.name, key)):
        return
    said = f"{other} Nothing is kept yet: hold it against its label, and confirm it if it is so."
    raise Conflict("key_doubtful", said, field="key", confirm=key)


def facts_move_said(*, workshop: Workshop, news: Sequence[tuple[Material, FactsEntry]], at: datetime) -> str:
    """Return in words which poured versions ask for other lye once *news* of materials are written; nothing is.

    Nothing where none do.
    """
    keys = [material.pk for material, _entry in news]
    before = poured_lye(workshop=workshop, materials=keys, at=at)
    if not before:
        return ""
    facts = {
        material.pk: MaterialFacts(workshop=workshop, material=material, **check_facts(kind=material.kind, entry=entry))
        for material, entry in news
    }
    found = moves(before, poured_lye(workshop=workshop, materials=keys, at=at, facts=facts))
    if not found:
        return ""
    names = [str(material) for material, _entry in news]
    named = ", ".join(names[:_MOST_MATERIALS]) + (
        f" and {len(names) - _MOST_MATERIALS} more" if len(names) > _MOST_MATERIALS else ""
    )
    return f"By what the file says of {named}, versions that were poured ask for other lye. {moves_said(found, workshop.unit)}."


def changes_said(material: Material, before: FactsEntry, now: FactsEntry) -> str:
    """Return in words which figures were changed, each with old and new."""
    rows = {"fat": fat_kinds(), "liquid": liquid_kinds()}.get(material.kind, {})
    pairs = [(name, getattr(before, name), getattr(now, name)) for name in _FIGURES]
    changed = [(name, _figure(rows, name, was), _figure(rows, name, is_now)) for name, was, is_now in pairs if was != is_now]
    return "; ".join(f"{_FIGURES[name]} {was} → {is_now}" for name, was, is_now in changed)


def _figure(rows: Mapping, name: str, value: object) -> str:
    if value is None or value == "":
        return "not said"
    if name == "key":
        return rows[value].name if value in rows else str(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal) and (name.endswith("_fraction") or name == "most_share"):
        return f"{(value * 100).normalize():f}\u00a0%"
    return f"{value.normalize():f}" if isinstance(value, Decimal) else str(value)
