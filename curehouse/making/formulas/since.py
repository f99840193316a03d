"""Why a poured version asks for other lye today than at its last pour: other lots, or a material known otherwise.

What a batch was poured with is kept with it (`Batch.reckoned`), so that both can be held side by side.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from curehouse.common.time import day_words, local_day
from curehouse.core.chemistry.alkali import Alkali
from curehouse.core.chemistry.bounds import Bounds
from curehouse.core.chemistry.poured import pour_from_plain
from curehouse.making.formulas.adapter import Planned
from curehouse.making.formulas.entries import Role
from curehouse.making.formulas.pours import pour_today
from curehouse.making.models import Batch
from curehouse.workshops.models import AuditEntry
from inventory.models import LotValue, Material

# Figures that lie nearer than this part of each other are the same.
_NOISE = 1e-6
_EDITS = ("material_facts", "material_edit")


@dataclass(frozen=True, slots=True)
class Since:
    """What counts otherwise today than at a pour, in sentences; which materials by themselves, and not by their lots."""

    by_material: tuple[str, ...] = ()
    by_lots: tuple[str, ...] = ()

    @property
    def said(self) -> str:
        """All of it in words."""
        return " ".join((*self.by_material, *self.by_lots))


def since_pour(one: Planned, batch: Batch, *, at: datetime) -> Since:
    """Return what counts otherwise for *one*, worked out today, than when *batch* was poured from its version.

    One query where what is known of a material was changed since, and one where a certificate counts; else
    none. Nothing of a batch that keeps no figures.
    """
    if batch.reckoned is None:
        return Since()
    others = [*_other_lyes(one, batch), *_other_fats(one, batch)]
    known = [other for other in others if not other.is_by_lots]
    by_lots = [other for other in others if other.is_by_lots]
    deeds = _deeds(batch, [other.material for other in known if other.material is not None]) if known else {}
    values = _values(one, batch, [other.material for other in by_lots if other.material is not None]) if by_lots else {}
    said = [
        f"What is known of {other.name} was changed since: it {other.figures}{_who(deeds.get(other.key), batch, at)}."
        for other in known
    ]
    of_lots = [f"{other.name} {other.figures}, by {_by_lots(values.get(other.key), batch, at)}." for other in by_lots]
    return Since(tuple(said), tuple(of_lots))


@dataclass(frozen=True, slots=True)
class _Other:
    material: Material | None
    name: str
    figures: str
    is_by_lots: bool

    @property
    def key(self) -> int | None:
        return None if self.material is None else self.material.pk


def _other_fats(one: Planned, batch: Batch) -> Iterator[_Other]:
    """Find the fats that count with another saponification value; their lines are those of the pour."""
    then, now = pour_from_plain(batch.reckoned).fats, pour_today(one).fats
    lines = one.entry.of(Role.FAT)
    for line, was, is_now in zip(lines, then, now, strict=True) if len(then) == len(now) else ():
        if was.value is None or is_now.value is None or _is_same(was.value, is_now.value):
            continue
        figures = f"counted with {_figure(was.value)} mg KOH per g and counts with {_figure(is_now.value)} today"
        yield _Other(line.material, line.name, figures, bool(was.is_certified or is_now.is_certified))


def _other_lyes(one: Planned, batch: Batch) -> Iterator[_Other]:
    """Find the lye that counts with another purity, by its lots; what nobody knew then says nothing."""
    then, now = pour_from_plain(batch.reckoned).lye, pour_today(one).lye
    for alkali, name, material in (
        (Alkali.NAOH, "The sodium hydroxide", one.entry.naoh_from),
        (Alkali.KOH, "The potassium hydroxide", one.entry.koh_from),
    ):
        values = [[part.value for part in parts if part.alkali is alkali and part.value is not None] for parts in (then, now)]
        if all(values) and not _is_same(values[0][0], values[1][0]):
            was, is_now = (_figure(own[0].times(100)) for own in values)
            yield _Other(material, name, f"counted as {was}\u00a0% pure and counts as {is_now}\u00a0% today", is_by_lots=True)


def _is_same(was: Bounds, now: Bounds) -> bool:
    return abs(was.middle - now.middle) <= _NOISE * max(was.middle, now.middle)


def _figure(value: Bounds) -> str:
    return f"{value.middle:.2f}".rstrip("0").rstrip(".")


def _deeds(batch: Batch, materials: Iterable[Material]) -> dict[int | None, AuditEntry]:
    """Return the last edit of each material since *batch*, by its key, as far as the trail knows one."""
    pages = {f"/materials/{material.pk}/": material.pk for material in materials}
    is_of_one = Q()
    for page in pages:
        is_of_one |= Q(address__contains=page)
    rows = AuditEntry.objects.within(batch.workshop).filter(is_of_one, code__in=_EDITS, at__gte=batch.written_at)
    rows = rows.select_related("by_user", "by_device").order_by("at", "pk")
    return {pk: row for row in rows for page, pk in pages.items() if page in row.address}


def _values(one: Planned, batch: Batch, materials: Iterable[Material]) -> dict[int | None, LotValue]:
    """Return the last figure since *batch* of a lot that was here before it and counts today, by its material's key."""
    lots = [take.of.lot.pk for material in materials for take in one.taken.get(material.pk, ())]
    rows = LotValue.objects.within(batch.workshop).filter(
        lot__in=lots, lot__written_at__lt=batch.written_at, at__gte=batch.written_at
    )
    rows = rows.select_related("lot__material", "by_user", "by_device").order_by("at", "pk")
    return {row.lot.material_id: row for row in rows}


def _by_lots(value: LotValue | None, batch: Batch, at: datetime) -> str:
    if value is None:
        return "its lots"
    return f"the certificate of {value.lot}: {value} was written since{_who(value, batch, at)}"


def _who(deed: AuditEntry | LotValue | None, batch: Batch, at: datetime) -> str:
    if deed is None:
        return ""
    zone = batch.workshop.time_zone
    return f" (last on {day_words(local_day(deed.at, zone), today=local_day(at, zone))} by {deed.signed_by})"
