"""Orders the house writes by itself, each morning and when asked; it sends none.

One order a supplier is written and not sent. If nobody but the house had a hand in it, it follows what is
worked out; one that a person wrote or changed stays as it is, and what the house would order stands beside it.
"""

import logging
from collections.abc import Iterable
from dataclasses import asdict
from datetime import datetime, timedelta
from math import inf
from typing import Any

from django.db import transaction

from curehouse.common.errors import FAULTS, DomainError
from curehouse.common.locking import lock_rows
from curehouse.core.stock.reorder.drafted import Draft, Line, Night
from curehouse.core.stock.reorder.night import look
from curehouse.flows.proposal_notices import renew_proposals
from curehouse.flows.reorder_room import Room, read_room
from curehouse.flows.run_notices import renew_runs
from curehouse.workshops.actors import Actor, the_house
from curehouse.workshops.models import Workshop
from inventory.models import MOST_PACKS, Material, Order, OrderStep, Proposal, PutOff, Supplier
from inventory.services.orders import call_off, lock_order, write_order
from inventory.services.proposals import forget_proposal, is_by_the_house, keep_proposal
from inventory.services.proposals import want_again as _want_again

logger = logging.getLogger(__name__)

# Orders are looked at each morning; one that is due may wait over a weekend.
REVIEW_DAYS = 3
# Whoever orders while it is looked is read of so many times.
MOST_READ = 2
NO_LONGER = "What is here, on its way and planned has changed: nothing of it is needed now."


def look_tonight(room: Room) -> Night:
    """Return what would be ordered."""
    past = room.past
    return look(
        room.kept,
        room.sellers,
        season=past.season,
        unplanned=past.announced,
        costs=room.waiting.costs,
        review_days=REVIEW_DAYS,
        usual_rate=past.mean_rate,
    )


def propose(*, workshop: Workshop, at: datetime) -> list[Order]:
    """Write what would be ordered now as orders that are not sent; return those that stand.

    What was ordered of any supplier or put off while it was looked is read once more; if it happens again, the next look
    knows.
    """
    for _ in range(MOST_READ):
        room = read_room(workshop=workshop, at=at)
        drafts = {int(draft.seller.key): draft for draft in look_tonight(room).drafts}
        with transaction.atomic():
            written = set(Order.objects.within(workshop).written().values_list("supplier", flat=True))
            # All of them before the first order's number is taken: whoever writes an order holds one and waits for it. Those
            # of whom nothing is wanted too: the same material may be ordered of them meanwhile.
            sellers = {int(seller.key) for seller in room.sellers}
            suppliers = lock_rows(Supplier.objects.within(workshop), {*sellers, *written})
            if _stands_as_read(workshop, room):
                found = [_renew(suppliers[key], drafts.get(key), room, at=at) for key in sorted({*drafts, *written})]
                return [order for order in found if order is not None]
    return list(Order.objects.within(workshop).written())


def _stands_as_read(workshop: Workshop, room: Room) -> bool:
    """Say whether nothing was ordered, changed or came in of any supplier, and nothing was put off, since it was read."""
    is_put_off = PutOff.objects.within(workshop).newest_key() != room.put_off_key
    return not is_put_off and OrderStep.objects.within(workshop).newest_keys() == room.step_keys


def propose_this_morning(*, workshop: Workshop, at: datetime) -> None:
    """Do so before the day's digest, which a fault here must not keep waiting."""
    try:
        propose(workshop=workshop, at=at)
    except FAULTS:
        logger.exception("nothing proposed this morning: workshop=%s", workshop.pk)


def propose_now(*, actor: Actor, at: datetime) -> list[Order]:
    """Do so because somebody asks, and tell of it."""
    found = propose(workshop=actor.workshop, at=at)
    renew_runs(workshop=actor.workshop, at=at)
    renew_proposals(workshop=actor.workshop, at=at, tells_new=True)
    return found


def want_again(*, actor: Actor, material: Material, at: datetime) -> tuple[PutOff, Proposal | None]:
    """Let a material be proposed again that was put off, and look at once: return what is noted, and on what it waits now."""
    row = _want_again(actor=actor, material=material, at=at)
    propose_now(actor=actor, at=at)
    return row, Proposal.objects.within(actor.workshop).by_material().get(row.material_id)


def _renew(supplier: Supplier, draft: Draft | None, room: Room, *, at: datetime) -> Order | None:
    """Let a locked supplier's written order say what is worked out, if it is the house's own; return what stands of it."""
    workshop = supplier.workshop
    house = the_house(workshop)
    order = Order.objects.within(workshop).filter(supplier=supplier).written().first()
    if order is not None:
        order = lock_order(actor=house, order=order)
    own = order is None or is_by_the_house(order)
    if draft is None:
        if order is not None:
            forget_proposal(order=order)
            if own:
                call_off(actor=house, order=order, why=NO_LONGER, at=at)
        return None if own else order
    if own:
        try:
            order = write_order(actor=house, supplier=supplier, packs=_packs(draft, order), at=at)
        except DomainError as refused:
            # Such as an offer that ended since the storeroom was read: the next look knows, and the others go on.
            logger.warning("not proposed: workshop=%s supplier=%s code=%s", workshop.pk, supplier.pk, refused.code)
            return order
    if order is None:
        return None
    decide_by = room.today + timedelta(days=draft.last_day)
    keep_proposal(order=order, day=room.today, decide_by=decide_by, lines=[_line(one, draft) for one in draft.lines], at=at)
    return order


def _packs(draft: Draft, order: Order | None) -> dict[int, int]:
    """Return how many packs of each offer; none of those that are on the order and not wanted any more."""
    had: Iterable[int] = () if order is None else order.lines.values_list("offer", flat=True)
    return {**dict.fromkeys(had, 0), **{int(one.offer.key): min(one.packs, MOST_PACKS) for one in draft.lines}}


def _line(one: Line, draft: Draft) -> dict[str, Any]:
    """Return a line of a draft with its figures as it is kept."""
    why = asdict(one.why)
    planned = [{"run": int(run.run), "day": run.day, "amount": run.quantity} for run in one.why.planned]
    return {
        "material": int(one.kept.key),
        "offer": int(one.offer.key),
        "packs": min(one.packs, MOST_PACKS),
        "because": one.because.value,
        "freight": _freight(one, draft),
        "why": {**why, "planned": planned},
    }


def _freight(one: Line, draft: Draft) -> dict[str, Any] | None:
    """Return what a line does for the freight, money as it is written down; None where none is ever asked."""
    seller = draft.seller
    if not seller.freight:
        return None
    return {
        "packs": min(one.for_freight, MOST_PACKS),
        "costs": f"{seller.freight:.2f}",
        "free_from": None if seller.free_from == inf else f"{seller.free_from:.2f}",
        "is_free": draft.is_free,
    }
