"""What the house says of orders: that one is late, and when it is likely to come now.

The morning tells it; every verb that changes an order keeps it true until the next one. The notices are locked
before the orders are looked at, last of all that a transaction locks, as those of the stock.
"""

from collections.abc import Iterable, Sequence
from datetime import date, datetime

from django.db import transaction

from curehouse.common.locking import lock_rows
from curehouse.common.time import day_words, local_day
from curehouse.notices.kinds import Kind
from curehouse.notices.models import Notice
from curehouse.notices.services import end_episode, restate, tell, withdraw
from curehouse.workshops.models import Workshop
from inventory.models import Order, OrderLine
from inventory.queries.orders import Arrival

_MOST_NAMED = 6


@transaction.atomic
def renew_orders(*, workshop: Workshop, at: datetime, orders: Iterable[int] | None = None, tells_new: bool = False) -> None:
    """Make the notices about late orders true (of all orders, or of these).

    Call it in the transaction that changed the order. Only with *tells_new* (the morning) is something told that
    was not. A late order is told once until it is in or called off, or is not late any more by another day named;
    what a person has seen to stays so for that long.
    """
    today = local_day(at, workshop.time_zone)
    told = Notice.objects.within(workshop).of_kind(Kind.ORDER_LATE).episode_goes_on()
    lines = OrderLine.objects.within(workshop)
    if orders is not None:
        keys = sorted(set(orders))
        told, lines = told.filter(about__in=[_about(pk) for pk in keys]), lines.filter(order__in=keys)
    known = {row.about: row for row in lock_rows(told, told.order_by().values_list("pk", flat=True)).values()}
    if not known and not tells_new:
        return
    late = late_orders(lines.arrivals(on=today), today=today)
    said = {_about(pk): arrivals for pk, arrivals in late.items()}
    for thing in sorted(known.keys() - said.keys()):
        if known[thing].state == Notice.State.OPEN:
            withdraw(workshop=workshop, about=thing, kinds=[Kind.ORDER_LATE], reason=_why_over(workshop, thing), at=at)
        end_episode(notice=known[thing])
    for thing, arrivals in said.items():
        _say(workshop, thing, arrivals, known.get(thing), today=today, at=at, tells_new=tells_new)


def late_orders(arrivals: Sequence[Arrival], *, today: date) -> dict[int, list[Arrival]]:
    """Return what is still to come of the orders that are late, by the key of the order."""
    found: dict[int, list[Arrival]] = {}
    for one in arrivals:
        found.setdefault(one.line.order_id, []).append(one)
    return {key: ones for key, ones in found.items() if any(one.is_late for one in ones)}


def _about(pk: int) -> str:
    return f"order:{pk}"


def _why_over(workshop: Workshop, thing: str) -> str:
    order = Order.objects.within(workshop).get(pk=int(thing.partition(":")[2]))
    if order.state in (Order.State.SENT, Order.State.PARTLY_IN):
        return "It is expected on another day now."
    return f"It is {order.get_state_display()}."


def _say(
    workshop: Workshop,
    thing: str,
    arrivals: list[Arrival],
    standing: Notice | None,
    *,
    today: date,
    at: datetime,
    tells_new: bool,
) -> None:
    order, body = arrivals[0].line.order, late_words(arrivals, today=today)
    if standing is not None:
        if standing.state == Notice.State.OPEN and standing.body != body:
            restate(notice=standing, key=standing.key, body=body)
    elif tells_new:
        tell(
            workshop=workshop,
            key=f"{Kind.ORDER_LATE}:{thing}",
            kind=Kind.ORDER_LATE,
            about=thing,
            mark=Kind.ORDER_LATE,
            title=f"{order} is late",
            body=body,
            path=f"/orders/{order.pk}/",
            at=at,
        )


def late_words(arrivals: Sequence[Arrival], *, today: date) -> str:
    """Return in sentences what is still to come of a late order, since when it was expected and when it may come now."""
    order = arrivals[0].line.order
    expected = min(one.expected_on for one in arrivals if one.expected_on is not None)
    names = [one.line.material.name for one in arrivals]
    named = ", ".join(names[:_MOST_NAMED]) + (f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else "")
    sentences = [
        f"Still to come: {named}.",
        f"Sent {day_words(order.sent_on, today=today)}, expected {day_words(expected, today=today)}.",
    ]
    first = min(arrivals, key=lambda one: one.likely_on or date.max)
    if first.likely_on is not None and first.likely_on > today:
        sentences.append(
            f"Now likely {day_words(first.likely_on, today=today)}, 4 of 5 by {day_words(first.by_80_on, today=today)}, "
            f"safe {day_words(first.safe_on, today=today)}."
        )
    return "\n".join([*sentences, "Ask the supplier, and note the day they name or call it off."])
