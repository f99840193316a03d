"""What the house says of planned runs: that what one takes will not be there on its day, or may come too late for it.

The morning tells it; every verb that moves stock, or changes an order or a run, keeps it true until the next one. These
notices are locked before any other of the storeroom and of orders, and before the stock is looked at.
"""

import logging
from collections.abc import Iterator, Sequence
from datetime import date, datetime

from django.db import transaction

from curehouse.common.locking import lock_rows
from curehouse.common.time import day_words, local_day
from curehouse.common.units import show_at_least, show_at_most
from curehouse.flows.run_risks import FirstDays, Lack, RunRisk, runs_at_risk
from curehouse.making.models import Run
from curehouse.notices.kinds import Kind
from curehouse.notices.models import Notice
from curehouse.notices.services import end_episode, restate, tell, withdraw
from curehouse.workshops.models import Workshop

logger = logging.getLogger(__name__)

# Beside a notice stands how a run stands, as on its own page.
SHORT, AT_RISK = "short", "at_risk"
_TITLES = {SHORT: "{run} lacks something", AT_RISK: "{run} may lack something"}
_MOST_NAMED = 4


@transaction.atomic
def renew_runs(*, workshop: Workshop, at: datetime, tells_new: bool = False) -> None:
    """Make the notices about planned runs true.

    Call it in the transaction that changed something. Only with *tells_new* (the morning) is something told that was
    not. A run is told of once until everything is there for it again; what a person has seen to stays so for that long,
    unless what was only at risk is short now.
    """
    told = Notice.objects.within(workshop).of_kind(Kind.RUN_AT_RISK).episode_goes_on()
    known = {row.about: row for row in lock_rows(told, told.order_by().values_list("pk", flat=True)).values()}
    if not known and not tells_new:
        return
    try:
        risks = {_about(one.run.pk): one for one in runs_at_risk(workshop=workshop, at=at)}
    except ValueError:
        # What the core refuses, rows of the house do not hold; whoever finds one reads it on the run's page.
        logger.exception("runs not held against the storeroom: workshop=%s", workshop.pk)
        return
    today = local_day(at, workshop.time_zone)
    for thing in sorted(known.keys() - risks.keys()):
        if known[thing].state == Notice.State.OPEN:
            reason = _why_over(workshop, thing, today=today)
            withdraw(workshop=workshop, about=thing, kinds=[Kind.RUN_AT_RISK], reason=reason, at=at)
        end_episode(notice=known[thing])
    for thing, risk in risks.items():
        _say(workshop, thing, risk, known.get(thing), at=at, tells_new=tells_new)


def _about(pk: int) -> str:
    return f"run:{pk}"


def _why_over(workshop: Workshop, thing: str, *, today: date) -> str:
    run = Run.objects.within(workshop).get(pk=int(thing.partition(":")[2]))
    if run.state != Run.State.PLANNED:
        return f"It is {run.get_state_display()}."
    if run.pour_on < today:
        return "Its day has passed."
    return f"What it takes is there for {day_words(run.pour_on, today=today)}, or can still be ordered in time."


def _say(workshop: Workshop, thing: str, risk: RunRisk, standing: Notice | None, *, at: datetime, tells_new: bool) -> None:
    today = local_day(at, workshop.time_zone)
    mark, body = SHORT if risk.is_short else AT_RISK, risk_words(risk, unit=workshop.unit, today=today)
    title = _TITLES[mark].format(run=f"{risk.run.formula.name} on {day_words(risk.run.pour_on, today=today)}")
    if standing is not None and standing.state == Notice.State.OPEN:
        if (standing.mark, standing.title, standing.body) != (mark, title, body):
            restate(notice=standing, key=standing.key, body=body, title=title, mark=mark)
        return
    if standing is not None and (standing.mark, mark) == (AT_RISK, SHORT) and tells_new:
        end_episode(notice=standing)
        standing = None
    if standing is None and tells_new:
        tell(
            workshop=workshop,
            key=f"{Kind.RUN_AT_RISK}:{thing}",
            kind=Kind.RUN_AT_RISK,
            about=thing,
            mark=mark,
            title=title,
            body=body,
            path=f"/runs/{risk.run.pk}/",
            at=at,
        )


def risk_words(risk: RunRisk, *, unit: str, today: date) -> str:
    """Return in sentences, a line each, what a run lacks, by when to order it, and on which day it could be poured."""
    short = [one for one in risk.lacks if one.likely_g]
    late = [one for one in risk.lacks if not one.likely_g]
    lines = []
    if short:
        named = _named([f"{show_at_least(one.likely_g, unit)} of {one.material}" for one in short])
        lines.append(f"{named} will not be there: {_in_short(short, today=today)}.")
    if late:
        named = _named([f"{show_at_least(one.safe_g, unit)} of {one.material}" for one in late])
        lines.append(f"{named} may come too late: there if it comes on its likely day.")
    lines += [*_orders(short, today=today), *_waiting(risk.lacks, unit=unit), *_days(risk, today=today)]
    return "\n".join(lines)


def _named(ones: Sequence[str]) -> str:
    more = [f"{len(ones) - _MOST_NAMED} more"] if len(ones) > _MOST_NAMED else []
    *before, last = [*ones[:_MOST_NAMED], *more]
    return f"{', '.join(before)} and {last}" if before else last


def _in_short(short: Sequence[Lack], *, today: date) -> str:
    """Return in half a sentence what can be done: a digest has room for no more."""
    by = [one.order_by for one in short if one.order_by is not None]
    if by and min(by) < today:
        return "what is ordered now is safely here too late for its day"
    if len(by) < len(short):
        return "how long a delivery takes is not known"
    when = "today" if min(by) == today else f"by {day_words(min(by), today=today)}"
    return f"order {when}, and it is safely here in time"


def _orders(short: Sequence[Lack], *, today: date) -> Iterator[str]:
    """Yield by when to order what is short, what is too late already, and what stands on an order that is not sent."""
    in_time = [one for one in short if one.order_by is not None and one.order_by >= today]
    if in_time and len(in_time) < len(short):
        by = min(one.order_by for one in in_time if one.order_by is not None)
        when = "today" if by == today else f"by {day_words(by, today=today)}"
        yield f"Order {_materials(in_time)} {when}, and it is safely here in time."
    for one in short:
        if one.order_by is not None and one.safe_on is not None and one.order_by < today:
            yield f"{one.material} that is ordered today is safely here only on {day_words(one.safe_on, today=today)}."
    unknown = [one for one in short if one.order_by is None]
    if unknown:
        yield f"How long a delivery takes of {_materials(unknown)} is not known: write down who sells it, and in how many days."
    for order in dict.fromkeys(order for one in short for order in one.written):
        yield f"{order}, has {_materials([one for one in short if order in one.written])} and is not sent yet."


def _materials(lacks: Sequence[Lack]) -> str:
    return _named([str(one.material) for one in lacks])


def _waiting(lacks: Sequence[Lack], *, unit: str) -> Iterator[str]:
    lots = [f"{lot} ({show_at_most(lot.on_hand, unit)})" for one in lacks for lot in one.waiting]
    if lots:
        yield f"In quarantine, and usable once it is released: {_named(lots)}."


def _days(risk: RunRisk, *, today: date) -> Iterator[str]:
    """Yield on which day the run could be poured without taking anything from another, in two ways where they differ."""
    likely = risk.as_it_is.likely
    if not risk.is_short:
        safe = risk.as_it_is.safe
        yield "No day within four months is safe as it is." if safe is None else f"Safe from {_on(safe, today)} on."
        return
    without = "is not within four months" if likely is None else f"is {_either(risk.as_it_is, today)}"
    yield f"Its first day with what is here and on its way {without}."
    if risk.if_ordered.likely is not None and risk.if_ordered != risk.as_it_is:
        yield f"If what is short is ordered today, its first day is {_either(risk.if_ordered, today)}."


def _either(days: FirstDays, today: date) -> str:
    likely = "" if days.likely is None else _on(days.likely, today)
    if days.safe == days.likely:
        return likely
    return f"{likely} likely, {'no day within four months' if days.safe is None else _on(days.safe, today)} safely"


def _on(day: date, today: date) -> str:
    return "today" if day == today else day_words(day, today=today)
