"""What is told of a cure before it is over: dry enough within a week, another day than was foretold, likely to stay too soft.

Told with each forecast and every morning, sent with the day's digest alone. What is measured ends it
(``flows/verdict_notices.py``); each is told of a batch once, another day whenever the middle of what is foretold
leaves the range that was told last, by the one notice of it that stands. Of bars that go to nobody no day is told.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db import transaction
from django.db.models import Case, Min, When

from curehouse.common.locking import lock_rows
from curehouse.common.steps import in_steps
from curehouse.common.time import local_day
from curehouse.curing.early import early_words
from curehouse.curing.models import Cure, Forecast
from curehouse.curing.obstacles import obstacles_of
from curehouse.curing.outlook import (
    TO_COME,
    have_passed,
    latest_has_passed,
    latest_words,
    measured_words,
    ready_meaning,
    ready_window,
    soft_words,
    weighed_after,
)
from curehouse.flows.verdict_notices import about
from curehouse.making.leaving import CHECK_NEEDED
from curehouse.notices.kinds import FORETOLD, PROMISED, Kind
from curehouse.notices.models import Notice
from curehouse.notices.services import bring_back, restate, tell, withdraw
from curehouse.workshops.models import Workshop

# Time to have the safety check, labels and boxes at hand.
SOON_DAYS = 7
# What was told soon stands until it is this far off, and what was told soft until it is this unlikely: news, not noise.
_NO_LONGER_SOON_DAYS = 14
SOFT_FROM = 0.5
_NO_LONGER_SOFT = 0.25
# A day or two is nothing that was promised to anybody.
_LEAST_MOVE_DAYS = 3
_TITLES = {
    Kind.SOFT_LIKELY: "{batch} may stay too soft",
    Kind.READY_SOON: "{batch} is likely dry enough within a week",
}
_ENDED = {
    Kind.SOFT_LIKELY: "It is likelier now that it gets dry enough in time.",
    Kind.READY_SOON: "It is foretold to take longer now.",
}
_NONE_COUNTS = "Nothing is foretold of it now: none of its weighings counts."
_NO_WATER = "Nothing is foretold of it now: how much water went in is not known."
_OVER = "The days it was foretold for have passed"


@dataclass(frozen=True, slots=True)
class _Told:
    """The forecast that a batch's maker knows of: the first, or the one that was told to have moved."""

    forecast_id: int
    p10: float
    p50: float
    p90: float
    weighings: int


def renew_outlooks(*, workshop: Workshop, cures: Iterable[int], at: datetime) -> None:
    """Make what is told of the forecasts of cures (by their keys) true."""
    for part in in_steps(sorted(cures)):
        _renew(workshop, part, at=at)


def renew_all_outlooks(*, workshop: Workshop, at: datetime) -> None:
    """Make what is told of every forecast true: days pass without any news."""
    going_on = Cure.objects.within(workshop).going_on().filter(state__in=TO_COME)
    renew_outlooks(workshop=workshop, cures=going_on.values_list("pk", flat=True), at=at)


@transaction.atomic
def _renew(workshop: Workshop, keys: Iterable[int], *, at: datetime) -> None:
    at_hand = Cure.objects.within(workshop).select_related("batch__formula", "forecast", "assessment").with_obstacles()
    rows = lock_rows(at_hand, keys)
    to_come = [cure for cure in rows.values() if cure.ended_at is None and cure.state in TO_COME]
    things = [about(cure.batch_id) for cure in to_come]
    notices = list(Notice.objects.within(workshop).filter(about__in=things, kind__in=FORETOLD).order_by("pk"))
    by_key = {notice.key: notice for notice in notices}
    cures = [cure for cure in to_come if cure.forecast is not None]
    moves = {notice.about: notice for notice in notices if notice.kind == Kind.MOVED}
    told = _told_before(workshop, cures, moves.values())
    for cure in cures:
        cure.batch.workshop = cure.workshop = workshop
        _renew_soft(cure, by_key, at=at)
        stays = [one for one in obstacles_of(cure) if one.code != CHECK_NEEDED]
        if stays:
            withdraw(workshop=workshop, about=about(cure.batch_id), kinds=PROMISED, reason=stays[0].says, at=at)
            continue
        _renew_soon(cure, by_key, at=at)
        _say_moved(cure, told.get(cure.batch_id), moves.get(about(cure.batch_id)), at=at)
    is_told = {notice.about for notice in notices if notice.state == Notice.State.OPEN}
    for cure in to_come:
        if cure.forecast is None and about(cure.batch_id) in is_told:
            why = _NONE_COUNTS if cure.last_weighed_at is None else _NO_WATER
            withdraw(workshop=workshop, about=about(cure.batch_id), kinds=FORETOLD, reason=why, at=at)


def _told_before(workshop: Workshop, cures: Iterable[Cure], moves: Iterable[Notice]) -> dict[int, _Told]:
    """Return by batch what was told last: the newest that was told to have moved, or else the first.

    What was foretold before the house knew a cure of its own is no promise once it does.
    """
    batches = {cure.batch_id: cure.forecast.prior_id is None for cure in cures}
    told = Forecast.objects.within(workshop).filter(batch__in=batches)
    by_batch = told.annotate(is_cold=Case(When(prior__isnull=True, then=True), default=False)).values("batch_id", "is_cold")
    firsts = by_batch.annotate(first=Min("pk")).order_by()
    reference = {row["batch_id"]: row["first"] for row in firsts if row["is_cold"] == batches[row["batch_id"]]}
    for notice in moves:
        batch, forecast = notice.key.split(":")[-2:]
        reference[int(batch)] = int(forecast)
    ready = ("foretold__ready_day__p10", "foretold__ready_day__p50", "foretold__ready_day__p90", "foretold__weighings")
    rows = Forecast.objects.within(workshop).filter(pk__in=reference.values()).values_list("batch_id", "pk", *ready)
    return {batch: _Told(*row) for batch, *row in rows}


def _renew_soft(cure: Cure, by_key: Mapping[str, Notice], *, at: datetime) -> None:
    soft, latest_day = cure.forecast.foretold["soft_probability"], cure.forecast.asked["rule"]["latest_day"]
    if latest_has_passed(_cut_on(cure), latest_day=latest_day, today=local_day(at, cure.workshop.time_zone)):
        ended = latest_words(latest_day)
        _hold_true(cure, by_key, Kind.SOFT_LIKELY, begins=False, goes_on=False, ended=ended, at=at)
        return
    _hold_true(cure, by_key, Kind.SOFT_LIKELY, begins=soft >= SOFT_FROM, goes_on=soft > _NO_LONGER_SOFT, at=at)


def _renew_soon(cure: Cure, by_key: Mapping[str, Notice], *, at: datetime) -> None:
    foretold, rule, today = cure.forecast.foretold, cure.forecast.asked["rule"], local_day(at, cure.workshop.time_zone)
    ready = foretold["ready_day"]
    days_off = (_cut_on(cure) + timedelta(days=round(ready["p50"])) - today).days
    is_known = ready["p50"] < rule["horizon_days"] and foretold["soft_probability"] < SOFT_FROM
    if have_passed(ready, _cut_on(cure), horizon=rule["horizon_days"], today=today):
        _hold_true(cure, by_key, Kind.READY_SOON, begins=False, goes_on=False, ended=_why_over(cure, today), at=at)
        return
    soon = is_known and days_off <= SOON_DAYS
    _hold_true(cure, by_key, Kind.READY_SOON, begins=soon, goes_on=is_known and days_off <= _NO_LONGER_SOON_DAYS, at=at)


def _why_over(cure: Cure, today: date) -> str:
    weighed_on = weighed_after(cure, _cut_on(cure), zone=cure.workshop.time_zone)
    if weighed_on is None:
        return f"{_OVER}: weigh it, and you know."
    return f"{_OVER}. {measured_words(cure, weighed_on, today=today)}"


def _hold_true(
    cure: Cure, by_key: Mapping[str, Notice], kind: Kind, *, begins: bool, goes_on: bool, at: datetime, ended: str = ""
) -> None:
    thing, workshop = about(cure.batch_id), cure.workshop
    notice = by_key.get(f"{kind}:{thing}")
    if notice is None:
        if begins:
            _tell(cure, kind, f"{kind}:{thing}", _TITLES[kind].format(batch=cure.batch), _body(cure, kind, at=at), at=at)
        return
    if notice.state == Notice.State.OPEN and not goes_on:
        withdraw(workshop=workshop, about=thing, kinds=[kind], reason=ended or _ENDED[kind], at=at)
    elif notice.state == Notice.State.WITHDRAWN and begins:
        bring_back(notice=notice, body=_body(cure, kind, at=at))
    elif notice.state == Notice.State.OPEN and notice.body != (body := _body(cure, kind, at=at)):
        restate(notice=notice, key=notice.key, body=body)


def _tell(cure: Cure, kind: Kind, key: str, title: str, body: str, *, at: datetime) -> None:
    tell(
        workshop=cure.workshop,
        key=key,
        kind=kind,
        about=about(cure.batch_id),
        mark=kind,
        title=title,
        body=body,
        path=f"/batches/{cure.batch_id}/",
        at=at,
    )


def _body(cure: Cure, kind: Kind, *, at: datetime) -> str:
    today = local_day(at, cure.workshop.time_zone)
    foretold, rule = cure.forecast.foretold, cure.forecast.asked["rule"]
    if kind == Kind.SOFT_LIKELY:
        said = soft_words(foretold["soft_probability"], latest_day=rule["latest_day"])
        return "\n".join([said, *early_words(cure, cure.workshop)])
    check = "Its safety check is passed: have at hand" if cure.last_check_passed else "Have its safety check at hand, and"
    return "\n".join([*_window_words(cure, today), f"{check} what it is wrapped in."])


def _window_words(cure: Cure, today: date) -> list[str]:
    ready, rule = cure.forecast.foretold["ready_day"], cure.forecast.asked["rule"]
    window = ready_window(ready, _cut_on(cure), horizon=rule["horizon_days"], today=today)
    first = [one.says for one in obstacles_of(cure)]
    return [*first, f"Dry enough {window}.", ready_meaning(cure, _cut_on(cure), zone=cure.workshop.time_zone, today=today)]


def _cut_on(cure: Cure) -> date:
    return local_day(cure.batch.cut_at, cure.workshop.time_zone)


def _say_moved(cure: Cure, told: _Told | None, last: Notice | None, *, at: datetime) -> None:
    """Tell that the middle of what is foretold has left the range that was told last.

    What was told *last* and stands, or ended by itself, says so anew; its key names the forecast that it tells of.
    """
    forecast, ready = cure.forecast, cure.forecast.foretold["ready_day"]
    if told is None or told.forecast_id == forecast.pk:
        return
    middle = ready["p50"]
    if told.p10 <= middle <= told.p90 or abs(middle - told.p50) < _LEAST_MOVE_DAYS:
        return
    thing, today, cut_on = about(cure.batch_id), local_day(at, cure.workshop.time_zone), _cut_on(cure)
    before = ready_window(
        {"p10": told.p10, "p50": told.p50, "p90": told.p90}, cut_on, horizon=forecast.asked["rule"]["horizon_days"], today=today
    )  # fmt: skip
    weighed = forecast.foretold["weighings"] - told.weighings
    by = (
        f"By {weighed} more weighing{'' if weighed == 1 else 's'} of it."
        if weighed > 0
        else "By what the house has learnt since, or by what of this batch was put right."
    )
    title = f"{cure.batch} {'takes longer to dry' if middle > told.p50 else 'dries sooner'} than foretold"
    sentences = [
        f"It was foretold to be dry enough {before}.",
        *_window_words(cure, today),
        by,
        "Look whom you promised it, and when.",
    ]
    key, body = f"{Kind.MOVED}:{thing}:{forecast.pk}", "\n".join(sentences)
    if last is None or last.state == Notice.State.DONE:
        _tell(cure, Kind.MOVED, key, title, body, at=at)
        return
    if last.state == Notice.State.WITHDRAWN:
        bring_back(notice=last, body=body)
    restate(notice=last, key=key, body=body, title=title)
