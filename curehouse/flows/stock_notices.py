"""What the house says of the storeroom: what expires soon, what has expired and is still here.

The morning tells it; every verb that moves stock (``flows/stock.py``) keeps it true until the next
one. The notices are locked before the stock is looked at, last of all that a transaction locks: of two
movements at one instant the second sees both.
"""

import logging
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db import transaction

from curehouse.common.errors import FAULTS
from curehouse.common.locking import lock_rows
from curehouse.common.steps import A_STEP, in_steps
from curehouse.common.time import day_words, local_day
from curehouse.flows.left_over import GOOD_PART, LeftOver, left_over, left_over_words, unused_words, with_uses
from curehouse.flows.run_notices import renew_runs
from curehouse.notices.kinds import Kind
from curehouse.notices.models import Notice
from curehouse.notices.queries import NoticeQuerySet
from curehouse.notices.services import bring_back, restate, tell, withdraw
from curehouse.workshops.models import Workshop
from inventory.models import Lot
from inventory.queries.lots import LotQuerySet
from inventory.services.entries import show_amount

logger = logging.getLogger(__name__)
Standing = Mapping[str, Notice]

# Long enough to plan a batch with it.
SOON = timedelta(days=30)
# So far ahead it is looked whether a good part of a lot will be left over (as the page of its material looks).
SEEN_AHEAD = timedelta(days=89)
# What was told of a part that is left stays told until hardly any of it will be.
_STILL_GOOD_PART = 0.1
# The state whose mark stands beside a lot of which a good part will be left, while it does not expire soon.
LEFT_OVER = "left_over"
_TITLES = {
    Kind.EXPIRING: "{lot} expires soon",
    LEFT_OVER: "{lot} will not be used up before it expires",
    Kind.EXPIRED: "{lot} has expired",
}
_OF_LOTS = (Kind.EXPIRING, Kind.EXPIRED)


@transaction.atomic
def renew_stock(
    *, workshop: Workshop, at: datetime, material_ids: Iterable[int] | None = None, tells_new: bool = False
) -> None:
    """Make the notices about stock true (of all materials, or of these).

    Call it in the transaction that moved the stock. Only with *tells_new* (the morning) is something told
    that was not: a lot once when it expires soon, or earlier if a good part of it will be left, and once when it
    has expired; what a person has seen to stays
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
    notices = Notice.objects.within(workshop).filter(kind__in=_OF_LOTS)
    told = notices.open()
    if wanted is None:
        keys = told.values_list("pk", flat=True)
    else:
        lots = lots.filter(material__in=wanted)
        keys = _about_one_of(told, lots)
    standing = {notice.about: notice for notice in lock_rows(told, keys).values()}
    ending = [lot for lot in lots.expiring(by=today + SEEN_AHEAD) if lot.standing != Lot.Standing.REJECTED]
    by_key = {_lot_key(lot, today): lot for lot in ending}
    ended = _ended_under(notices, list(by_key))
    asked = [lot for key, lot in by_key.items() if _is_asked(lot, key, standing, ended, tells_new=tells_new)]
    left = _left_over(workshop, asked, today=today, at=at)
    by_key = {key: lot for key, lot in by_key.items() if _is_worth_saying(lot, left.get(lot.pk), standing, today)}
    now_said = {_about_lot(lot.pk): key for key, lot in by_key.items()}
    for thing, notice in sorted(standing.items()):
        key = now_said.get(thing)
        if key is None or _kind_of(key) != notice.kind or key in ended:
            _end_lot(workshop, notice, today=today, at=at)
            del standing[thing]
    for key, lot in by_key.items():
        words = _LotWords(lot, left.get(lot.pk), workshop.unit, today)
        _say_lot(words, key, standing.get(_about_lot(lot.pk)), ended.get(key), at=at, tells_new=tells_new)


def _is_asked(lot: Lot, key: str, standing: Standing, ended: Mapping[str, Notice], *, tells_new: bool) -> bool:
    """Return whether something may be said of a lot now, so that it is worth looking ahead."""
    if key in ended:
        return ended[key].state == Notice.State.WITHDRAWN
    return tells_new or _about_lot(lot.pk) in standing


def _left_over(workshop: Workshop, lots: list[Lot], *, today: date, at: datetime) -> dict[int, LeftOver]:
    """Return what will be left of lots that have not expired, and what could use it where it is a good part."""
    fresh = [lot for lot in lots if lot.best_before >= today]
    if not fresh:
        return {}
    try:
        found = left_over(workshop=workshop, lots=fresh, at=at)
        good = [lot for lot in fresh if lot.pk in found and found[lot.pk].share >= _STILL_GOOD_PART]
        return with_uses(found, workshop=workshop, lots=good, at=at)
    except FAULTS:
        # What odd rows bring about must not keep the morning waiting: without it the lots are told as they expire.
        logger.exception("not looked ahead to what is left over: workshop=%s", workshop.pk)
        return {}


def _is_worth_saying(lot: Lot, left: LeftOver | None, standing: Standing, today: date) -> bool:
    if lot.best_before <= today + SOON:
        return True
    is_said = _about_lot(lot.pk) in standing
    if left is None:
        # Nobody knows now (it waits in quarantine, or nothing could be looked ahead): what was said stays said.
        return is_said
    return left.share >= (_STILL_GOOD_PART if is_said else GOOD_PART)


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
    elif notice.key != _lot_key(lot, today):
        reason = "Its best-before is another one now."
    else:
        reason = "It will be used before it expires, by planned runs and usual use."
    withdraw(workshop=workshop, about=notice.about, kinds=[notice.kind], reason=reason, at=at)


@dataclass(frozen=True, slots=True)
class _LotWords:
    """A lot that expires, or has, and what will be left of it, where that is known."""

    lot: Lot
    left: LeftOver | None
    unit: str
    today: date

    @property
    def kind(self) -> Kind:
        return Kind.EXPIRED if self.lot.best_before < self.today else Kind.EXPIRING

    @property
    def mark(self) -> str:
        return LEFT_OVER if self.lot.best_before > self.today + SOON else self.kind

    @property
    def title(self) -> str:
        return _TITLES[self.mark].format(lot=self.lot)

    @property
    def body(self) -> str:
        lot = self.lot
        left = f"{show_amount(lot.on_hand, lot.material, self.unit)} left{', estimated' if lot.is_estimated else ''}"
        days, day = (lot.best_before - self.today).days, day_words(lot.best_before, today=self.today)
        waits = ["It is in quarantine: release it or reject it."] if lot.standing == Lot.Standing.QUARANTINE else []
        if days < 0:
            advice = "No batch is offered it. Write the rest off, or correct the best-before if your supplier gave it longer."
            return "\n".join([f"{left}, best before {day}.", *waits, advice])
        when = "today" if days == 0 else "tomorrow" if days == 1 else f"in {days} days"
        uses = [] if self.left is None else left_over_words(lot, self.left, unit=self.unit, today=self.today)
        unused = unused_words(lot, self.left, unit=self.unit)
        return "\n".join([f"{left}, best before {day}, {when}{unused}.", *waits, *uses, "Use it up first."])


def _say_lot(
    words: _LotWords, key: str, standing: Notice | None, ended: Notice | None, *, at: datetime, tells_new: bool
) -> None:
    """Let a lot's notice say its best-before; a person's "seen to" holds for that day."""
    if standing is not None:
        if words.left is None and words.mark == LEFT_OVER:
            return
        if (standing.key, standing.body, standing.title) != (key, words.body, words.title):
            restate(notice=standing, key=key, body=words.body, title=words.title, mark=words.mark)
    elif ended is not None:
        if ended.state == Notice.State.WITHDRAWN:
            bring_back(notice=ended, body=words.body)
            restate(notice=ended, key=key, body=words.body, title=words.title, mark=words.mark)
    elif tells_new:
        tell(
            workshop=words.lot.workshop,
            key=key,
            kind=words.kind,
            about=_about_lot(words.lot.pk),
            mark=words.mark,
            title=words.title,
            body=words.body,
            path=f"/lots/{words.lot.pk}/",
            at=at,
        )
