"""What the house says of orders that it would send: that a person is to decide, and by when."""

from collections.abc import Iterable
from datetime import date, datetime

from django.db import transaction

from curehouse.common.locking import lock_rows
from curehouse.common.time import day_words, local_day
from curehouse.notices.kinds import Kind
from curehouse.notices.models import Notice
from curehouse.notices.services import end_episode, restate, tell, withdraw
from curehouse.workshops.models import Workshop
from inventory.models import Material, Order, Proposal

_MOST_NAMED = 6


@transaction.atomic
def renew_proposals(*, workshop: Workshop, at: datetime, orders: Iterable[int] | None = None, tells_new: bool = False) -> None:
    """Make the notices of orders that wait for a decision true (of all orders, or of these).

    Call it in the transaction that changed the order. Only with *tells_new* (the morning, or when somebody asks)
    is something told that was not.
    """
    told = Notice.objects.within(workshop).of_kind(Kind.ORDER_TO_DECIDE).episode_goes_on()
    waiting = Proposal.objects.within(workshop).undecided()
    if orders is not None:
        keys = sorted(set(orders))
        told, waiting = told.filter(about__in=[_about(pk) for pk in keys]), waiting.filter(order__in=keys)
    known = {row.about: row for row in lock_rows(told, told.order_by().values_list("pk", flat=True)).values()}
    said = {_about(one.order_id): one for one in waiting}
    for thing in sorted(known.keys() - said.keys()):
        if known[thing].state == Notice.State.OPEN:
            withdraw(workshop=workshop, about=thing, kinds=[Kind.ORDER_TO_DECIDE], reason=_why_over(workshop, thing), at=at)
        end_episode(notice=known[thing])
    names = _names(workshop, said.values())
    today = local_day(at, workshop.time_zone)
    for thing, one in said.items():
        _say(workshop, thing, one, known.get(thing), body=_words(one, names, today=today), at=at, tells_new=tells_new)


def _about(pk: int) -> str:
    return f"order:{pk}"


def _why_over(workshop: Workshop, thing: str) -> str:
    order = Order.objects.within(workshop).get(pk=int(thing.partition(":")[2]))
    if order.state == Order.State.WRITTEN:
        return "Nothing on it is needed now."
    return f"It is {order.get_state_display()}."


def _names(workshop: Workshop, proposals: Iterable[Proposal]) -> dict[int, str]:
    keys = {line["material"] for one in proposals for line in one.lines}
    return dict(Material.objects.within(workshop).filter(pk__in=keys).values_list("pk", "name"))


def _words(one: Proposal, names: dict[int, str], *, today: date) -> str:
    lines = [names[line["material"]] for line in one.lines if line["material"] in names]
    more = f" and {len(lines) - _MOST_NAMED} more" if len(lines) > _MOST_NAMED else ""
    by = "today" if one.decide_by <= today else f"by {day_words(one.decide_by, today=today)}"
    return f"{', '.join(lines[:_MOST_NAMED])}{more}.\nDecide {by}: send it, change it, or say that it is not wanted now."


def _say(
    workshop: Workshop, thing: str, one: Proposal, standing: Notice | None, *, body: str, at: datetime, tells_new: bool
) -> None:
    if standing is not None:
        if standing.state == Notice.State.OPEN and standing.body != body:
            restate(notice=standing, key=standing.key, body=body)
    elif tells_new:
        tell(
            workshop=workshop,
            key=f"{Kind.ORDER_TO_DECIDE}:{thing}",
            kind=Kind.ORDER_TO_DECIDE,
            about=thing,
            mark=Kind.ORDER_TO_DECIDE,
            title=f"{one.order} is to be decided",
            body=body,
            path=f"/orders/{one.order_id}/",
            at=at,
        )
