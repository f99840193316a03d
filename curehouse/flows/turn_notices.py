"""What the house says of bars that are to be turned: one notice for all batches, told in the morning.

It is locked after those of milk and before those of runs. What was seen to is told again the next morning, as long as
bars are to be turned.
"""

from collections.abc import Sequence
from datetime import date, datetime

from django.db import transaction

from curehouse.common.locking import lock_rows
from curehouse.common.time import day_words, local_day
from curehouse.curing.turning import ToTurn, to_turn
from curehouse.notices.kinds import Kind
from curehouse.notices.models import Notice
from curehouse.notices.services import close, restate, tell, withdraw
from curehouse.workshops.models import Workshop

_MOST_NAMED = 20
TURNED = "The bars were turned."
_NONE = "No bars are to be turned any more."


@transaction.atomic
def renew_turning(*, workshop: Workshop, at: datetime, was_turned: bool = False, tells_new: bool = False) -> None:
    """Make the notice of bars to be turned true; only with *tells_new* (the morning) is one written.

    *was_turned* says why it ends, where it does.
    """
    told = Notice.objects.within(workshop).of_kind(Kind.TURN).open()
    standing = list(lock_rows(told, told.order_by().values_list("pk", flat=True)).values())
    if not standing and not tells_new:
        return
    today, thing = local_day(at, workshop.time_zone), f"workshop:{workshop.pk}"
    key, due = f"{Kind.TURN}:{thing}:{today}", to_turn(workshop=workshop, at=at)
    ends = {"workshop": workshop, "about": thing, "kinds": [Kind.TURN], "at": at}
    if not due:
        if was_turned:
            close(reason=TURNED, **ends)
        else:
            withdraw(reason=_NONE, **ends)
        return
    title, body = turning_title(len(due)), turning_body(due, today)
    if tells_new and any(one.key != key for one in standing):
        close(reason="The next morning has come.", **ends)
        standing = []
    for one in standing:
        if (one.title, one.body) != (title, body):
            restate(notice=one, key=one.key, body=body, title=title)
    if not standing and tells_new:
        tell(
            workshop=workshop, key=key, kind=Kind.TURN, about=thing, mark="", title=title, body=body, path="/turning/", at=at
        )  # fmt: skip


def turning_title(batches: int) -> str:
    """Return what is to be done: ``Turn the bars of 7 batches``."""
    return f"Turn the bars of {batches} {'batch' if batches == 1 else 'batches'}"


def turning_body(due: Sequence[ToTurn], today: date) -> str:
    """Return which batches, as one walks past them, and since when."""
    named = "; ".join(f"{one.batch}, {since_words(one.due_on, today)}" for one in due[:_MOST_NAMED])
    more = len(due) - _MOST_NAMED
    return f"{named}{f'; and {more} more' if more > 0 else ''}."


def since_words(due_on: date, today: date) -> str:
    """Return since when the bars are to be turned."""
    return "due today" if due_on == today else f"due since {day_words(due_on, today=today)}"
