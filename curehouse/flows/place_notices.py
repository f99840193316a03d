"""What the house says of runs whose bars will not all have a place: the morning tells it, and no longer than it is true.

These notices are locked after the positions and before all other notices.

A cure that runs over into the days of a run is no fault of anybody: nothing is refused for it, and it is told.
"""

from collections.abc import Iterator
from datetime import date, datetime

from django.db import transaction

from curehouse.common.locking import lock_rows
from curehouse.common.time import day_words, local_day
from curehouse.flows.place_clashes import Cramped, Crowd, cramped_runs, soon
from curehouse.making.models import Run
from curehouse.notices.kinds import Kind
from curehouse.notices.models import Notice
from curehouse.notices.services import end_episode, restate, tell, withdraw
from curehouse.workshops.models import Workshop

# Beside a notice stands this mark.
NO_PLACE = "no_place"
_MOST_CROWDS = 3


@transaction.atomic
def renew_places(*, workshop: Workshop, at: datetime, tells_new: bool = False) -> None:
    """Make the notices about places true; only with *tells_new* (the morning) is something told that was not."""
    told = Notice.objects.within(workshop).of_kind(Kind.RUN_PLACES).episode_goes_on()
    known = {row.about: row for row in lock_rows(told, told.order_by().values_list("pk", flat=True)).values()}
    if not known and not tells_new:
        return
    today = local_day(at, workshop.time_zone)
    cramped = {f"run:{one.run.pk}": one for one in soon(cramped_runs(workshop=workshop, at=at), today)}
    for thing in sorted(known.keys() - cramped.keys()):
        if known[thing].state == Notice.State.OPEN:
            reason = _why_over(workshop, thing)
            withdraw(workshop=workshop, about=thing, kinds=[Kind.RUN_PLACES], reason=reason, at=at)
        end_episode(notice=known[thing])
    for thing, one in cramped.items():
        _say(workshop, thing, one, known.get(thing), at=at, tells_new=tells_new)


def _why_over(workshop: Workshop, thing: str) -> str:
    run = Run.objects.within(workshop).get(pk=int(thing.partition(":")[2]))
    return "There is a place for all its bars." if run.state == Run.State.PLANNED else f"It is {run.get_state_display()}."


def _say(workshop: Workshop, thing: str, one: Cramped, standing: Notice | None, *, at: datetime, tells_new: bool) -> None:
    today = local_day(at, workshop.time_zone)
    title = f"{one.run.formula.name} on {day_words(one.run.pour_on, today=today)}: not all its bars have a place"
    body = "\n".join(cramped_words(one, today=today))
    if standing is not None:
        if standing.state == Notice.State.OPEN and (standing.title, standing.body) != (title, body):
            restate(notice=standing, key=standing.key, body=body, title=title, mark=NO_PLACE)
    elif tells_new:
        tell(
            workshop=workshop,
            key=f"{Kind.RUN_PLACES}:{thing}",
            kind=Kind.RUN_PLACES,
            about=thing,
            mark=NO_PLACE,
            title=title,
            body=body,
            path=f"/runs/{one.run.pk}/",
            at=at,
        )


def cramped_words(one: Cramped, *, today: date) -> list[str]:
    """Return in sentences which bars of a run have no place and when, by whom, and what can be done."""
    return [*_without(one, today), *_crowds(one, today), *_remedy(one, today)]


def _without(one: Cramped, today: date) -> Iterator[str]:
    if one.without:
        days = f"from {day_words(one.first_day, today=today)} to {day_words(one.last_day, today=today)}"
        some = f"{one.without} of its" if one.without < one.cure.bars else "all its"
        yield f"For {some} {one.cure.bars} bars no place is kept {days}."


def _crowds(one: Cramped, today: date) -> Iterator[str]:
    for crowd in one.crowds[:_MOST_CROWDS]:
        yield _crowd(crowd, today)
    more = len(one.crowds) - _MOST_CROWDS
    if more > 0:
        yield f"So it is at {more} more."


def _crowd(crowd: Crowd, today: date) -> str:
    begin, end = (day_words(day, today=today) for day in (crowd.first_day, crowd.last_day))
    when = f"on {begin}" if begin == end else f"from {begin} to {end}"
    over = "1 bar too many" if crowd.bars_over == 1 else f"{crowd.bars_over} bars too many"
    beside = "; ".join(
        f"{name} stays, nobody knows how long" if until is None else f"{name} stays until about {day_words(until, today=today)}"
        for name, until in crowd.beside
    )
    return f"{crowd.position} would hold {over} {when}{': ' if beside else ''}{beside}."


def _remedy(one: Cramped, today: date) -> Iterator[str]:
    if one.run.state != Run.State.PLANNED:
        yield "When you cut it, choose other places, or make room before."
    elif one.has_room:
        yield "There is room for all of them elsewhere: keep its places anew."
    elif one.pour_first_on is None:
        yield "No day within four months has room for all of them: make room, or make less."
    else:
        day = day_words(one.pour_first_on, today=today)
        yield f"Poured on {day}, all of them have a place: move it, make room, or make less."
