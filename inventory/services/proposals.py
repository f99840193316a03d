"""The only writer of what the house would order, and of what is not to be ordered for a while."""

from collections.abc import Callable, Sequence
from datetime import date, datetime, timedelta
from typing import Any

from django.db import transaction

from curehouse.common.errors import Conflict, Invalid, NotHere
from curehouse.common.locking import lock_rows
from curehouse.common.time import local_day
from curehouse.core.stock.reorder.drafted import Because, last_day_of
from curehouse.workshops.actors import Actor
from inventory.models import Material, Order, OrderStep, Proposal, PutOff
from inventory.services.entries import clean_reason
from inventory.to_order import not_now

# Longer than this nothing is put off: it is looked at again, or its offer is ended.
_FARTHEST = timedelta(days=366)


def keep_proposal(*, order: Order, day: date, decide_by: date, lines: Sequence[dict[str, Any]], at: datetime) -> Proposal:
    """Keep what the house would order with a locked order that is written."""
    row, _made = Proposal.unscoped.update_or_create(
        workshop=order.workshop, order=order, defaults={"day": day, "decide_by": decide_by, "lines": list(lines), "at": at}
    )
    return row


def forget_proposal(*, order: Order) -> None:
    """Let nothing stand beside a locked order that is written: the house would order nothing of it now."""
    Proposal.unscoped.filter(workshop=order.workshop, order=order).delete()


def drop_line(*, order: Order, goes: Callable[[int, int], bool]) -> None:
    """Take off what the house would order with a locked order that is written; *goes* is asked with material and offer."""
    kept = Proposal.objects.within(order.workshop).filter(order=order).first()
    if kept is None:
        return
    lines = [line for line in kept.lines if not goes(line["material"], line["offer"])]
    if not lines:
        forget_proposal(order=order)
    elif len(lines) < len(kept.lines):
        lines = [_of_unknown_goods(line) for line in lines]
        last_day = last_day_of([(Because(line["because"]), line["why"]["last_day"]) for line in lines])
        decide_by = kept.day + timedelta(days=last_day)
        keep_proposal(order=order, day=kept.day, decide_by=decide_by, lines=lines, at=kept.at)


def change_line(*, order: Order, of: int, to: int, least: int) -> None:
    """Let what the house would order with a locked order be of another offer, with the same packs or the *least* it takes."""
    kept = Proposal.objects.within(order.workshop).filter(order=order).first()
    if kept is not None and any(line["offer"] == of for line in kept.lines):
        lines = [
            {**line, "offer": to, "packs": max(line["packs"], least)} if line["offer"] == of else line for line in kept.lines
        ]
        kept.lines = [_of_unknown_goods(line) for line in lines]
        kept.save(update_fields=["lines"])


def _of_unknown_goods(line: dict[str, Any]) -> dict[str, Any]:
    """Return a line that does not say any more whether the goods come without freight: something beside it changed."""
    freight = line.get("freight")
    return line if freight is None else {**line, "freight": {**freight, "is_free": None}}


def is_by_the_house(order: Order) -> bool:
    """Return whether nobody but the house has had a hand in an order."""
    steps = OrderStep.objects.within(order.workshop).filter(order=order)
    return not steps.by_people().exists()


@transaction.atomic
def put_off(*, actor: Actor, material: Material, until: date, why: str, at: datetime) -> PutOff:
    """Note that a material is not to be ordered before a day, and why; what is said last counts."""
    row, today = _lock(actor, material), local_day(at, actor.workshop.time_zone)
    if not today < until <= today + _FARTHEST:
        raise Invalid("until", "Say a day after today, within a year: from then on it is proposed again.", field="until")
    reason = clean_reason(why, ask="Say why it is not to be ordered now.", field="why")
    return PutOff.unscoped.create(
        workshop=actor.workshop, material=row, day=today, until=until, why=reason, at=at, **actor.signature
    )  # fmt: skip


@transaction.atomic
def want_again(*, actor: Actor, material: Material, at: datetime) -> PutOff:
    """Note that a material is wanted again that was put off, or stood on an order that was called off."""
    row, today = _lock(actor, material), local_day(at, actor.workshop.time_zone)
    if row.pk not in not_now(workshop=actor.workshop, on=today):
        raise Conflict("not_put_off", f"{row} is not put off: it is proposed as soon as it is needed.", field="material")
    return PutOff.unscoped.create(
        workshop=actor.workshop, material=row, day=today, until=today, why="It is wanted again.", at=at, **actor.signature
    )  # fmt: skip


def _lock(actor: Actor, material: Material) -> Material:
    row = lock_rows(Material.objects.within(actor.workshop), [material.pk]).get(material.pk)
    if row is None:
        raise NotHere("not_here", "There is no such material in this workshop.", field="material")
    return row
