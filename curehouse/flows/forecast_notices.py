"""What is told of a cure before it is over: ready within a week, another day than was foretold, likely to stay too soft.

Told with each forecast and every morning, sent with the day's digest alone. What is measured ends it
(``flows/verdict_notices.py``); each is told of a batch once, another day whenever the middle of what is foretold
leaves the range that was told last.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db import transaction
from django.db.models import Case, Min, When

from curehouse.common.locking import lock_rows
from curehouse.common.steps import in_steps
from curehouse.common.time import local_day
from curehouse.core.cure.advice import early_advice
from curehouse.curing.adapter import batch_at, batch_rows, limits_of
from curehouse.curing.circumstances import with_circumstances
from curehouse.curing.models import Cure, Forecast
from curehouse.curing.outlook import TO_COME, ready_meaning, ready_window, soft_words
from curehouse.flows.verdict_notices import about
from curehouse.notices.kinds import FORETOLD, Kind
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
    Kind.READY_SOON: "{batch} is likely ready within a week",
}
_ENDED = {
    Kind.SOFT_LIKELY: "It is likelier now that it gets dry enough in time.",
    Kind.READY_SOON: "It is foretold to take longer now.",
}


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
    going_on = Cure.objects.within(workshop).going_on().filter(forecast__isnull=False, state__in=TO_COME)
    renew_outlooks(workshop=workshop, cures=going_on.values_list("pk", flat=True), at=at)


@transaction.atomic
def _renew(workshop: Workshop, keys: Iterable[int], *, at: datetime) -> None:
    rows = lock_rows(Cure.objects.within(workshop).select_related("batch__formula", "forecast"), keys)
    cures = [cure for cure in rows.values() if cure.ended_at is None and cure.state in TO_COME and cure.forecast is not None]
    things = [about(cure.batch_id) for cure in cures]
    notices = list(Notice.objects.within(workshop).filter(about__in=things, kind__in=FORETOLD).order_by("pk"))
    by_key = {notice.key: notice for notice in notices}
    told = _told_before(workshop, cures, notices)
    for cure in cures:
        cure.batch.workshop = cure.workshop = workshop
        _renew_one(cure, by_key, at=at)
        _say_moved(cure, told.get(cure.batch_id), at=at)


def _told_before(workshop: Workshop, cures: Iterable[Cure], notices: Iterable[Notice]) -> dict[int, _Told]:
    """Return by batch what was told last.

    What was foretold before the house knew a cure of its own is no promise once it does.
    """
    batches = {cure.batch_id: cure.forecast.prior_id is None for cure in cures}
    told = Forecast.objects.within(workshop).filter(batch__in=batches)
    by_batch = told.annotate(is_cold=Case(When(prior__isnull=True, then=True), default=False)).values("batch_id", "is_cold")
    firsts = by_batch.annotate(first=Min("pk")).order_by()
    reference = {row["batch_id"]: row["first"] for row in firsts if row["is_cold"] == batches[row["batch_id"]]}
    for notice in notices:
        if notice.kind == Kind.MOVED:
            batch, forecast = notice.key.split(":")[-2:]
            reference[int(batch)] = int(forecast)
    ready = ("foretold__ready_day__p10", "foretold__ready_day__p50", "foretold__ready_day__p90", "foretold__weighings")
    rows = Forecast.objects.within(workshop).filter(pk__in=reference.values()).values_list("batch_id", "pk", *ready)
    return {batch: _Told(*row) for batch, *row in rows}


def _renew_one(cure: Cure, by_key: Mapping[str, Notice], *, at: datetime) -> None:
    foretold, rule = cure.forecast.foretold, cure.forecast.asked["rule"]
    today, ready, soft = local_day(at, cure.workshop.time_zone), foretold["ready_day"], foretold["soft_probability"]
    days_off = (_cut_on(cure) + timedelta(days=round(ready["p50"])) - today).days
    is_soft, was_soft = soft >= SOFT_FROM, soft > _NO_LONGER_SOFT
    is_known = ready["p50"] < rule["horizon_days"] and not is_soft
    _hold_true(cure, by_key, Kind.SOFT_LIKELY, begins=is_soft, goes_on=was_soft, at=at)
    soon = is_known and days_off <= SOON_DAYS
    _hold_true(cure, by_key, Kind.READY_SOON, begins=soon, goes_on=is_known and days_off <= _NO_LONGER_SOON_DAYS, at=at)


def _hold_true(cure: Cure, by_key: Mapping[str, Notice], kind: Kind, *, begins: bool, goes_on: bool, at: datetime) -> None:
    thing, workshop = about(cure.batch_id), cure.workshop
    notice = by_key.get(f"{kind}:{thing}")
    if notice is None:
        if begins:
            _tell(cure, kind, f"{kind}:{thing}", _TITLES[kind].format(batch=cure.batch), _body(cure, kind, at=at), at=at)
        return
    if notice.state == Notice.State.OPEN and not goes_on:
        withdraw(workshop=workshop, about=thing, kinds=[kind], reason=_ENDED[kind], at=at)
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
        rows = batch_rows(cure.batch)
        known = batch_at(rows, cure.workshop, moment=max(cure.forecast.moment, cure.batch.cut_at))
        limits = limits_of(cure.batch, cure.workshop)
        advice = early_advice(with_circumstances(known, cure.batch, limits), limits)
        return "\n".join([soft_words(foretold["soft_probability"], latest_day=rule["latest_day"]), *advice])
    return "\n".join([*_window_words(cure, today), "Have its safety check at hand, and what it is wrapped in."])


def _window_words(cure: Cure, today: date) -> list[str]:
    ready, rule = cure.forecast.foretold["ready_day"], cure.forecast.asked["rule"]
    window = ready_window(ready, _cut_on(cure), horizon=rule["horizon_days"], today=today)
    return [f"Ready {window}.", ready_meaning(ready, _cut_on(cure), rule, today=today)]


def _cut_on(cure: Cure) -> date:
    return local_day(cure.batch.cut_at, cure.workshop.time_zone)


def _say_moved(cure: Cure, told: _Told | None, *, at: datetime) -> None:
    """Tell that the middle of what is foretold has left the range that was told last."""
    forecast, ready = cure.forecast, cure.forecast.foretold["ready_day"]
    if told is None or told.forecast_id == forecast.pk:
        return
    middle = ready["p50"]
    if told.p10 <= middle <= told.p90 or abs(middle - told.p50) < _LEAST_MOVE_DAYS:
        return
    thing, today, cut_on = about(cure.batch_id), local_day(at, cure.workshop.time_zone), _cut_on(cure)
    withdraw(workshop=cure.workshop, about=thing, kinds=[Kind.MOVED], reason="It moved once more.", at=at)
    before = ready_window(
        {"p10": told.p10, "p50": told.p50, "p90": told.p90}, cut_on, horizon=forecast.asked["rule"]["horizon_days"], today=today
    )  # fmt: skip
    weighed = forecast.foretold["weighings"] - told.weighings
    by = (
        f"By {weighed} more weighing{'' if weighed == 1 else 's'} of it."
        if weighed > 0
        else "By what the house has learnt since, or by what of this batch was put right."
    )
    title = f"{cure.batch} is to be ready {'later' if middle > told.p50 else 'earlier'} than foretold"
    sentences = [
        f"It was foretold to be ready {before}.",
        *_window_words(cure, today),
        by,
        "Look whom you promised it, and when.",
    ]
    _tell(cure, Kind.MOVED, f"{Kind.MOVED}:{thing}:{forecast.pk}", title, "\n".join(sentences), at=at)
