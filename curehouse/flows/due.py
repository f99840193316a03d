"""What the house says of batches that are to be weighed, kept true by every verb that moves a due day.

The morning tells what is due. Whatever moves a due day after that ends what was told, lets it say
the new day, or brings it back; so neither Today nor a digest asks for what is not due any more.
"""

from collections.abc import Iterable
from datetime import date, datetime

from django.db import transaction

from curehouse.common.time import day_words, local_day
from curehouse.curing.models import Cure
from curehouse.curing.queries.verdicts import CureQuerySet
from curehouse.flows.verdict_notices import about
from curehouse.notices.kinds import Kind
from curehouse.notices.models import Notice
from curehouse.notices.services import bring_back, close, restate, tell, withdraw
from curehouse.workshops.models import Workshop

WEIGHED = "The batch was weighed."
_NO_BAR_LEFT = "No sample bar of it is left to weigh."
_ANOTHER_DAY = "It is due on another day now."


@transaction.atomic
def renew_due(
    *,
    workshop: Workshop,
    at: datetime,
    batch_ids: Iterable[int] | None = None,
    was_weighed: bool = False,
    tells_new: bool = False,
) -> None:
    """Make the notices of what is to be weighed true (of all batches, or of these).

    Call it in the transaction that moved the due days, with the cures written. *was_weighed* says
    why a batch is not due any more; only with *tells_new* (the morning) is one told of that was not.
    """
    cures = Cure.objects.within(workshop).select_related("batch__formula")
    told = Notice.objects.within(workshop).of_kind(Kind.WEIGH)
    if batch_ids is not None:
        wanted = set(batch_ids)
        cures, told = cures.filter(batch__in=wanted), told.filter(about__in=[about(pk) for pk in wanted])
    today = local_day(at, workshop.time_zone)
    due = {cure.batch_id: cure for cure in cures.due(on=today)}
    standing = {notice.about: notice for notice in told.open()}
    ended = {notice.key: notice for notice in told.ended_under([_key(cure) for cure in due.values()])}
    _end_what_is_not_due(workshop, standing, due, later=_later_days(cures, standing, due), was_weighed=was_weighed, at=at)
    for cure in due.values():
        _say(workshop, cure, standing.get(about(cure.batch_id)), ended.get(_key(cure)), tells_new=tells_new, at=at)


def _later_days(cures: CureQuerySet, standing: dict[str, Notice], due: dict[int, Cure]) -> dict[str, date]:
    """Return the days on which batches are due that are still told of though not due yet."""
    if standing.keys() <= {about(batch_id) for batch_id in due}:
        return {}
    return {about(batch_id): day for batch_id, day in cures.filter(due_on__isnull=False).values_list("batch_id", "due_on")}


def _end_what_is_not_due(
    workshop: Workshop,
    standing: dict[str, Notice],
    due: dict[int, Cure],
    *,
    later: dict[str, date],
    was_weighed: bool,
    at: datetime,
) -> None:
    today = local_day(at, workshop.time_zone)
    for thing in sorted(standing.keys() - {about(batch_id) for batch_id in due}):
        if was_weighed:
            close(workshop=workshop, about=thing, kinds=[Kind.WEIGH], reason=WEIGHED, at=at)
            continue
        day = later.get(thing)
        reason = _NO_BAR_LEFT if day is None else f"It is next to be weighed on {day_words(day, today=today)}."
        withdraw(workshop=workshop, about=thing, kinds=[Kind.WEIGH], reason=reason, at=at)


def _say(
    workshop: Workshop, cure: Cure, standing: Notice | None, ended: Notice | None, *, tells_new: bool, at: datetime
) -> None:
    """Let the notice of a batch that is due say this due day; a person's "seen to" holds for that day."""
    key, thing, body = _key(cure), about(cure.batch_id), _last_weighed(cure, workshop, today=local_day(at, workshop.time_zone))
    if standing is not None and standing.key == key:
        return
    if ended is not None:
        if standing is not None:
            withdraw(workshop=workshop, about=thing, kinds=[Kind.WEIGH], reason=_ANOTHER_DAY, at=at)
        if ended.state == Notice.State.WITHDRAWN or ended.closed_why == WEIGHED:
            bring_back(notice=ended, body=body)
    elif standing is not None:
        restate(notice=standing, key=key, body=body)
    elif tells_new:
        tell(
            workshop=workshop,
            key=key,
            kind=Kind.WEIGH,
            about=thing,
            mark="",
            title=f"Weigh {cure.batch}",
            body=body,
            path=f"/batches/{cure.batch_id}/",
            at=at,
        )


def _key(cure: Cure) -> str:
    return f"{Kind.WEIGH}:{about(cure.batch_id)}:{cure.due_on}"


def _last_weighed(cure: Cure, workshop: Workshop, *, today: date) -> str:
    if cure.last_weighed_at is None:
        return "Its sample bars have not been weighed yet. Weigh them as soon as they are cut."
    last = local_day(cure.last_weighed_at, workshop.time_zone)
    return f"Its sample bars were last weighed on {day_words(last, today=today)}."
