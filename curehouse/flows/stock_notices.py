"""What the house says of the storeroom: what expires soon, what has expired and is still here.

The morning tells it; every verb that moves stock (``flows/stock.py``) keeps it true until the next
one. The notices are locked before the stock is looked at, last of all that a transaction locks: of two
movements at one instant the second sees both.
"""

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from django.db import transaction

from curehouse.common.locking import lock_rows
from curehouse.common.steps import A_STEP, in_steps
from curehouse.common.time import day_words, local_day
from curehouse.flows.run_notices import renew_runs
from curehouse.notices.kinds import Kind
from curehouse.notices.models import Notice
from curehouse.notices.queries import NoticeQuerySet
from curehouse.notices.services import bring_back, restate, tell, withdraw
from curehouse.workshops.models import Workshop
from inventory.models import Lot
from inventory.queries.lots import LotQuerySet
from inventory.services.entries import show_amount

# Long enough to plan a batch with it.
SOON = timedelta(days=30)
_TITLES = {Kind.EXPIRING: "{lot} expires soon", Kind.EXPIRED: "{lot} has expired"}


@transaction.atomic
def renew_stock(
    *, workshop: Workshop, at: datetime, material_ids: Iterable[int] | None = None, tells_new: bool = False
) -> None:
    """Make the notices about stock true (of all materials, or of these).

    Call it in the transaction that moved the stock. Only with *tells_new* (the morning) is something told
    that was not: a lot once when it expires soon and once when it has expired; what a person has seen to stays
    so for that long.
    """
    # Runs lack what the storeroom lacks: first of all, in whatever else these notices are locked.
    renew_runs(workshop=workshop, at=at, tells_new=tells_new)
    wanted = None if material_ids is None else set(material_ids)
    if wanted is not None and len(wanted) > A_STEP:
        # As true, and all are looked at in fewer words than so many are named.
        wanted = None
    _renew_lots(workshop, wanted, at=at, tells_new=tells_new)


def _about_lot(pk: int) -> str:
    return f"lot:{pk}"


def _key_of(thing: str) -> int:
    return int(thing.partition(":")[2])


def _renew_lots(workshop: Workshop, wanted: set[int] | None, *, at: datetime, tells_new: bool) -> None:
    today = local_day(at, workshop.time_zone)
    lots = Lot.objects.within(workshop).named()
    notices = Notice.objects.within(workshop).filter(kind__in=_TITLES)
    told = notices.open()
    if wanted is None:
        keys = told.values_list("pk", flat=True)
    else:
        lots = lots.filter(material__in=wanted)
        keys = _about_one_of(told, lots)
    standing = {notice.about: notice for notice in lock_rows(told, keys).values()}
    ending = [lot for lot in lots.expiring(by=today + SOON) if lot.standing != Lot.Standing.REJECTED]
    by_key = {_lot_key(lot, today): lot for lot in ending}
    ended = _ended_under(notices, list(by_key))
    now_said = {_about_lot(lot.pk): key for key, lot in by_key.items()}
    for thing, notice in sorted(standing.items()):
        key = now_said.get(thing)
        if key is None or _kind_of(key) != notice.kind or key in ended:
            _end_lot(workshop, notice, today=today, at=at)
            del standing[thing]
    for key, lot in by_key.items():
        _say_lot(workshop, lot, key, standing.get(_about_lot(lot.pk)), ended.get(key), at=at, tells_new=tells_new)


def _about_one_of(told: NoticeQuerySet, lots: LotQuerySet) -> list[int]:
    """Return the keys of the notices that tell of one of *lots*: from what stands, which is less than there are lots."""
    told_of = {_key_of(thing): key for key, thing in told.values_list("pk", "about")}
    return [told_of[lot] for part in in_steps(told_of) for lot in lots.filter(pk__in=part).values_list("pk", flat=True)]


def _ended_under(notices: NoticeQuerySet, keys: list[str]) -> dict[str, Notice]:
    """Return the ended notices that told what *keys* tell, by key."""
    found: dict[str, Notice] = {}
    for part in in_steps(keys):
        found |= {notice.key: notice for notice in notices.ended_under(part)}
    return found


def _kind_of(key: str) -> str:
    return key.partition(":")[0]


def _lot_key(lot: Lot, today: date) -> str:
    kind = Kind.EXPIRED if lot.best_before < today else Kind.EXPIRING
    return f"{kind}:{_about_lot(lot.pk)}:{lot.best_before}"


def _end_lot(workshop: Workshop, notice: Notice, *, today: date, at: datetime) -> None:
    lot = Lot.objects.within(workshop).get(pk=_key_of(notice.about))
    if not lot.on_hand:
        reason = "Nothing of it is left."
    elif lot.standing == Lot.Standing.REJECTED:
        reason = "It was rejected."
    elif lot.best_before is not None and lot.best_before < today:
        reason = "It has expired."
    else:
        reason = "Its best-before is another one now."
    withdraw(workshop=workshop, about=notice.about, kinds=[notice.kind], reason=reason, at=at)


def _say_lot(
    workshop: Workshop, lot: Lot, key: str, standing: Notice | None, ended: Notice | None, *, at: datetime, tells_new: bool
) -> None:
    """Let a lot's notice say its best-before; a person's "seen to" holds for that day."""
    body = _lot_body(workshop, lot, today=local_day(at, workshop.time_zone))
    if standing is not None:
        if (standing.key, standing.body) != (key, body):
            restate(notice=standing, key=key, body=body)
    elif ended is not None:
        if ended.state == Notice.State.WITHDRAWN:
            bring_back(notice=ended, body=body)
    elif tells_new:
        kind = Kind(_kind_of(key))
        tell(
            workshop=workshop,
            key=key,
            kind=kind,
            about=_about_lot(lot.pk),
            mark=kind,
            title=_TITLES[kind].format(lot=lot),
            body=body,
            path=f"/lots/{lot.pk}/",
            at=at,
        )


def _lot_body(workshop: Workshop, lot: Lot, *, today: date) -> str:
    left = f"{show_amount(lot.on_hand, lot.material, workshop.unit)} left{', estimated' if lot.is_estimated else ''}"
    days, day = (lot.best_before - today).days, day_words(lot.best_before, today=today)
    waits = ["It is in quarantine: release it or reject it."] if lot.standing == Lot.Standing.QUARANTINE else []
    if days < 0:
        advice = "No batch is offered it. Write the rest off, or correct the best-before if your supplier gave it longer."
        return "\n".join([f"{left}, best before {day}.", *waits, advice])
    when = "today" if days == 0 else "tomorrow" if days == 1 else f"in {days} days"
    return "\n".join([f"{left}, best before {day}, {when}.", *waits, "Use it up first."])
