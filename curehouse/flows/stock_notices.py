"""What the house says of the storeroom: what is low, what expires soon, what has expired and is still here.

The morning tells it; every verb that moves stock (``flows/stock.py``) keeps it true until the next
one. The notices are locked before the stock is looked at, last of all that a transaction locks: of two
movements at one instant the second sees both.
"""

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import transaction

from curehouse.common.locking import lock_rows
from curehouse.common.steps import A_STEP, in_steps
from curehouse.common.time import day_words, local_day
from curehouse.flows.run_notices import renew_runs
from curehouse.notices.kinds import Kind
from curehouse.notices.models import Notice
from curehouse.notices.queries import NoticeQuerySet
from curehouse.notices.services import bring_back, end_episode, restate, tell, withdraw
from curehouse.workshops.models import Workshop
from inventory.adapter import Cover, covers
from inventory.models import Lot, Material
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
    that was not. Low is told once until there is enough again; a lot once when it expires soon and once
    when it has expired; what a person has seen to stays so for that long.
    """
    # Runs lack what the storeroom lacks: first of all, in whatever else these notices are locked.
    renew_runs(workshop=workshop, at=at, tells_new=tells_new)
    wanted = None if material_ids is None else set(material_ids)
    if wanted is not None and len(wanted) > A_STEP:
        # As true, and all are looked at in fewer words than so many are named.
        wanted = None
    _renew_low(workshop, wanted, at=at, tells_new=tells_new)
    _renew_lots(workshop, wanted, at=at, tells_new=tells_new)


def _locked(notices: NoticeQuerySet) -> Iterable[Notice]:
    return lock_rows(notices, notices.order_by().values_list("pk", flat=True)).values()


def _about_material(pk: int) -> str:
    return f"material:{pk}"


def _about_lot(pk: int) -> str:
    return f"lot:{pk}"


def _renew_low(workshop: Workshop, wanted: set[int] | None, *, at: datetime, tells_new: bool) -> None:
    materials = Material.objects.within(workshop)
    told = Notice.objects.within(workshop).of_kind(Kind.LOW).episode_goes_on()
    if wanted is not None:
        materials, told = materials.filter(pk__in=wanted), told.filter(about__in=[_about_material(pk) for pk in wanted])
    known = {notice.about: notice for notice in _locked(told)}
    if not known and not tells_new:
        return
    low = {_about_material(row.pk): row for row in materials.low(on=local_day(at, workshop.time_zone))}
    for thing in sorted(known.keys() - low.keys()):
        if known[thing].state == Notice.State.OPEN:
            reason = _why_not_low(workshop, thing, at=at)
            withdraw(workshop=workshop, about=thing, kinds=[Kind.LOW], reason=reason, at=at)
        end_episode(notice=known[thing])
    said = {thing: row for thing, row in low.items() if _is_to_be_said(known.get(thing), tells_new=tells_new)}
    if not said:
        return
    lasting = covers(workshop=workshop, at=at, materials=[row.pk for row in said.values()])
    for thing, row in said.items():
        _say_low(workshop, row, lasting[row.pk], known.get(thing), at=at)


def _why_not_low(workshop: Workshop, thing: str, *, at: datetime) -> str:
    rows = Material.objects.within(workshop).with_stock(on=local_day(at, workshop.time_zone))
    material = rows.get(pk=_key_of(thing))
    if material.retired_at is not None:
        return "It is not bought any more."
    if material.low_at is None:
        return "It does not count as low at any level now."
    by_eye = ", part of it estimated" if material.usable_is_estimated else ""
    return f"{_is(material.usable, material, workshop)} usable now{by_eye}."


def _key_of(thing: str) -> int:
    return int(thing.partition(":")[2])


def _is_to_be_said(standing: Notice | None, *, tells_new: bool) -> bool:
    return tells_new if standing is None else standing.state == Notice.State.OPEN


def _say_low(workshop: Workshop, material: Material, cover: Cover, standing: Notice | None, *, at: datetime) -> None:
    thing, body = _about_material(material.pk), _low_body(workshop, material, cover)
    if standing is None:
        tell(
            workshop=workshop,
            key=f"{Kind.LOW}:{thing}",
            kind=Kind.LOW,
            about=thing,
            mark=Kind.LOW,
            title=f"{material} is low",
            body=body,
            path=f"/materials/{material.pk}/",
            at=at,
        )
    elif standing.body != body:
        restate(notice=standing, key=standing.key, body=body)


def _low_body(workshop: Workshop, material: Material, cover: Cover) -> str:
    usable, idle = material.usable, material.on_hand - material.usable
    low_at = show_amount(material.low_at, material, workshop.unit)
    by_eye = " (part of it estimated)" if material.usable_is_estimated else ""
    has = f"{_is(usable, material, workshop)} usable{by_eye}, {_lasts(cover)}" if usable else "None of it is usable"
    sentences = [f"{has}; low is under {low_at}."]
    if idle:
        sentences.append(f"Besides, {_is(idle, material, workshop)} here but not in order.")
    return "\n".join([*sentences, "Order more, or change the level at which it counts as low."])


def _is(amount: Decimal, material: Material, workshop: Workshop) -> str:
    are = material.measure == Material.Measure.PIECES and amount != 1
    return f"{show_amount(amount, material, workshop.unit)} {'are' if are else 'is'}"


def _lasts(cover: Cover) -> str:
    if cover.days is None:
        return "and none was used in the last 90 days"
    days = int(cover.days)
    if days < 1:
        return "not enough for a day at the recent rate"
    return f"enough for {'one day' if days == 1 else f'{days} days'} at the recent rate"


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
