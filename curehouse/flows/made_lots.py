"""What is ruled or corrected of a lot reaches the lots that were made with it: none of them stays released unseen."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from curehouse.common.errors import Conflict
from curehouse.common.time import local_day
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Workshop
from inventory.blends import lots_with
from inventory.models import Lot, LotCorrection, Making, MakingTake, Movement
from inventory.services.entries import LONGEST_REASON
from inventory.services.lots import LotPapers
from inventory.services.lots import correct_lot as write_corrections
from inventory.services.lots import rule_lot as write_ruling
from inventory.services.posting import lock_lots


@dataclass(frozen=True, slots=True)
class MadeWith:
    """A lot, and the lots that were made with it through blends within blends, all locked: the first made come first.

    ``moments``: by the key of each of these, when what leads to it was taken from the lot.
    """

    lot: Lot
    made: tuple[Lot, ...]
    moments: Mapping[int, frozenset[datetime]]


def lock_made_with(workshop: Workshop, lot: Lot) -> MadeWith:
    """Lock a lot and the lots made with it, at once and in key order; batches are locked before.

    Raises ``Conflict`` where something was made with it between the look and the lock.
    """
    found = {one.pk for one in lots_with(workshop, lot)}
    rows = lock_lots(workshop=workshop, lots=[lot, *Lot.objects.within(workshop).filter(pk__in=found)])
    row = rows.pop(lot.pk)
    if {one.pk for one in lots_with(workshop, row)} != found:
        raise Conflict("used_meanwhile", f"{row} was used just now: look at it again, and say it again.")
    # A lot is younger than whatever went into it, so its key is higher.
    return MadeWith(row, tuple(rows[key] for key in sorted(rows)), moments_of(workshop, row))


def lock_made_by(workshop: Workshop, movement: Movement) -> list[Lot]:
    """Lock the lot that a movement went into, those made with that, and the movement's own; return all but the last."""
    take = MakingTake.objects.within(workshop).in_force().filter(movement=movement).first()
    if take is None:
        return []
    made = [take.making.lot, *lots_with(workshop, take.making.lot)]
    rows = lock_lots(workshop=workshop, lots=[movement.lot, *made])
    return [rows[one.pk] for one in made]


def moments_of(workshop: Workshop, lot: Lot) -> dict[int, frozenset[datetime]]:
    """Return by the key of each lot that was made with one when what leads to it was taken."""
    found: dict[int, frozenset[datetime]] = {}
    for take in MakingTake.objects.within(workshop).from_lots([lot.pk]):
        for key in (take.making.lot_id, *(one.pk for one in lots_with(workshop, take.making.lot))):
            found[key] = found.get(key, frozenset()) | {take.movement.moment}
    return found


def quarantine_made(actor: Actor, made: Iterable[Lot], why: str, *, at: datetime) -> None:
    """Put the lots of these that are released in quarantine, and say why."""
    for lot in made:
        if lot.standing == Lot.Standing.RELEASED:
            write_ruling(actor=actor, lot=lot, standing=Lot.Standing.QUARANTINE, why=why[:LONGEST_REASON], at=at)


def bring_forward(actor: Actor, found: MadeWith, corrected: LotCorrection, *, at: datetime) -> list[LotCorrection]:
    """Bring the best-before of what was made with a lot forward to the lot's, on record; return the corrections.

    One that a person wrote, later than the lot keeps now, is theirs to say anew: that lot goes in quarantine.
    """
    workshop = actor.workshop
    lots = [one.pk for one in found.made]
    makings = {one.lot_id: one for one in Making.objects.within(workshop).filter(lot__in=lots).select_related("blend")}
    takes: dict[int, list[Lot]] = {}
    for take in MakingTake.objects.within(workshop).of_lots(lots):
        if take.movement is not None:
            takes.setdefault(take.making.lot_id, []).append(take.movement.lot)
    now = {one.pk: one.best_before for rows in takes.values() for one in rows} | {one.pk: one.best_before for one in found.made}
    before = now | {found.lot.pk: date.fromisoformat(corrected.before) if corrected.before else None}
    now[found.lot.pk] = date.fromisoformat(corrected.after)
    rows, waiting = [], set()
    for lot in found.made:
        made_of, keeps = takes.get(lot.pk, []), _keeps_until(makings[lot.pk], workshop.time_zone)
        derived, day = (_earliest([*(days[one.pk] for one in made_of), keeps]) for days in (before, now))
        is_later = day is not None and (lot.best_before is None or day < lot.best_before)
        why = f"made with {found.lot}, best before {corrected.after}: {corrected.why}"[:LONGEST_REASON]
        if (is_later and lot.best_before != derived) or any(one.pk in waiting for one in made_of):
            quarantine_made(actor, [lot], why, at=at)
            waiting.add(lot.pk)
        if not is_later or lot.best_before != derived:
            continue
        papers = LotPapers(lot.supplier_lot, day, lot.unit_cost)
        rows += write_corrections(actor=actor, lot=lot, papers=papers, why=why, at=at)
        now[lot.pk] = day
    return rows


def _keeps_until(making: Making, zone: str) -> date | None:
    days = making.blend.keeps_days
    return None if days is None else local_day(making.made_at, zone) + timedelta(days=days)


def _earliest(days: Iterable[date | None]) -> date | None:
    return min((day for day in days if day is not None), default=None)
