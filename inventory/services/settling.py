"""What a lot's story comes to, in a ledger that is only appended to: it is replayed in the order in which it happened.

People tell of receipts, uses, write-offs, returns and counts, in any order; of one moment, what was told
later is later. Two amounts follow from where they stand: a count sets what the lot held at its moment, so
its difference follows from what came and went before it; and more than is there cannot leave, so what goes
out beyond it was found as it went. Whatever changes the story (something told late, taken back, or moved
to another day) changes those amounts, and the ledger gets what they differ by from what was posted of them
so far, by rows at their own places that restate them. A lot never held less than nothing at any of them.

What is booked before the first thing that changed is taken as it stands; where something comes after that,
the replay starts at the last count before it. So a lot whose rows an older version posted is put right when
something before them changes, and not before.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal

from curehouse.common.steps import A_STEP, in_steps
from curehouse.common.time import local_day
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Workshop
from inventory.models import Count, Lot, Movement
from inventory.services.posting import Posting, keep_balances, write_rows
from inventory.services.recounts import Counts, Place, counts_of, place_of_count

_Kind = Movement.Kind
_NOTHING = Decimal(0)
# What goes out, and how what was found as it went is called.
_OUT = {_Kind.USE: "at the pour", _Kind.WRITE_OFF: "at the write-off", _Kind.GIVE_BACK: "at the return"}


@dataclass(slots=True)
class _Told:
    """Something that people told of: grams or pieces that came (above zero) or went, or were counted."""

    place: Place
    amount: Decimal
    kind: str
    moment: datetime
    key: int
    count: Count | None = None


@dataclass(slots=True)
class _Story:
    """A part of what happened to a lot: what was told, every row with its place, what was posted by the key of its count."""

    told: list[_Told] = field(default_factory=list)
    rows: list[tuple[Place, Decimal]] = field(default_factory=list)
    posted: dict[int, Decimal] = field(default_factory=dict)
    found: dict[int, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Derived:
    """What a count's difference, or what was found as something went out, differs by from what was posted of it."""

    lot: Lot
    what: _Told
    amount: Decimal
    restates: int | None

    @property
    def counted(self) -> Decimal:
        return self.what.amount if self.what.count is not None else -self.what.amount

    def reason(self, time_zone: str) -> str:
        what, count = _OUT.get(self.what.kind, "at the count"), self.what.count
        if self.restates is None:
            return f"found {what}"
        what = "by the stock list" if count is not None and count.by_list else what
        return f"{'lacking' if self.amount > 0 else 'there'} {what} of {local_day(self.what.moment, time_zone)} already"


@dataclass(frozen=True, slots=True)
class Settled:
    """What followed from what was told, as it was posted."""

    counts: Sequence[Count]

    def found_for(self, movement: Movement) -> Count | None:
        """Return what was found as something went out that was told just now, or None."""
        return next((row for row in self.counts if row.for_use_id == movement.pk), None)


def settle(
    *, actor: Actor, lots: Mapping[int, Lot], told: Sequence[Movement], at: datetime, source: str,
    gone: Sequence[Count] = (), goes_back: bool = True,
) -> Settled:  # fmt: skip
    """Post what follows from rows that are written and not in their lots' balance yet, and change what the lots hold.

    *lots* (by key) are locked and the rows' own; *gone* are counts without a row that were taken back. Without
    *goes_back* what is booked before is taken as it stands even where something comes after it (lists).
    """
    counts, workshop = counts_of(actor.workshop, lots.values()), actor.workshop
    since = min(row.moment for row in (*told, *gone))
    stories = _read(workshop, lots, counts, since=since)
    coming = dict.fromkeys(lots, _NOTHING)
    for row in told:
        coming[row.lot_id] += row.amount
    derived: list[_Derived] = []
    begins = _first_places(workshop, told, gone)
    for key, lot in lots.items():
        if key not in begins:
            continue
        begin, story = begins[key], stories[key]
        if goes_back and _has_later(story, begin, {row.pk for row in told}):
            last = next((row for row in reversed(counts.get(key, ())) if place_of_count(row) < begin), None)
            story = _read(workshop, {key: lot}, counts, since=last and last.moment)[key]
            begin = min(begin, *(place for place, _amount in story.rows)) if last is None else place_of_count(last)
        derived += _replayed(lot, story, begin, at_end=lot.on_hand + coming[key])
    rows, written = _post(actor, derived, at=at, source=source)
    keep_balances(actor=actor, lots=lots, rows=[*told, *rows])
    return Settled(written)


def _read(workshop: Workshop, lots: Mapping[int, Lot], counts: Counts, *, since: datetime | None) -> dict[int, _Story]:
    """Return the stories of lots from a moment on, or all of them."""
    stories = {key: _Story() for key in lots}
    for key, story in stories.items():
        for count in counts.get(key, ()):
            if since is None or count.moment >= since:
                place = place_of_count(count)
                story.told.append(_Told(place, count.counted, "", count.moment, count.pk, count))
    for part in in_steps(sorted(lots)):
        rows = Movement.objects.within(workshop).filter(lot__in=part).with_what_they_follow().order_by()
        rows = rows if since is None else rows.filter(moment__gte=since)
        for pk, lot, kind, amount, moment, told_at, told_as, is_a, follows, found_for, is_gone in rows.values_list(
            "pk", "lot", "kind", "amount", "moment", "told_at", "told_as", "is_a", "follows", "found_for", "corrected_by"
        ):
            story, place = stories[lot], (moment, told_at, told_as)
            story.rows.append((place, amount))
            if is_a == _Kind.COUNT:
                story.posted[follows] = story.posted.get(follows, _NOTHING) + amount
                if found_for is not None and kind == _Kind.COUNT:
                    story.found.setdefault(found_for, follows)
            elif kind != _Kind.REVERSAL and is_gone is None:
                story.told.append(_Told(place, amount, kind, moment, pk))
    for story in stories.values():
        # A list tells of its lot and its receipt at once: the receipt comes first.
        story.told.sort(key=lambda one: (one.place, one.count is not None))
    return stories


def _first_places(workshop: Workshop, told: Sequence[Movement], gone: Sequence[Count]) -> dict[int, Place]:
    """Return the place of the first thing that changed, by the key of the lot."""
    first: dict[int, Place] = {}
    for part in in_steps(row.pk for row in told):
        rows = Movement.objects.within(workshop).filter(pk__in=part).with_places().order_by()
        for lot, *place in rows.values_list("lot", "moment", "told_at", "told_as"):
            first[lot] = min(first.get(lot, tuple(place)), tuple(place))
    for count in gone:
        first[count.lot_id] = min(first.get(count.lot_id, place_of_count(count)), place_of_count(count))
    return first


def _has_later(story: _Story, begin: Place, new: set[int]) -> bool:
    """Return whether anything was told before that comes after what changed."""
    return any(one.place > begin and (one.count is not None or one.key not in new) for one in story.told)


def _replayed(lot: Lot, story: _Story, begin: Place, *, at_end: Decimal) -> list[_Derived]:
    """Return what follows from a story from a place on, where the lot holds *at_end* with all of its rows."""
    held = at_end - sum((amount for place, amount in story.rows if place >= begin), _NOTHING)
    derived: list[_Derived] = []
    for one in story.told:
        if one.place < begin:
            continue
        if one.count is None:
            restates = story.found.get(one.key)
            follows = max(-one.amount - held, _NOTHING) if one.amount < 0 else _NOTHING
            held += one.amount + follows
        else:
            restates, follows, held = one.count.pk, one.amount - held, one.amount
        differs = follows - (_NOTHING if restates is None else story.posted.get(restates, _NOTHING))
        if differs:
            derived.append(_Derived(lot, one, differs, restates))
    return derived


def _post(actor: Actor, derived: Sequence[_Derived], *, at: datetime, source: str) -> tuple[list[Movement], list[Count]]:
    """Write what follows, each with the count that says so."""
    zone = actor.workshop.time_zone
    postings = [Posting(one.lot, _Kind.COUNT, one.amount, one.what.moment, one.reason(zone)) for one in derived]
    rows = write_rows(actor=actor, postings=postings, at=at, source=source)
    counts = [
        Count(
            workshop=actor.workshop, lot=one.lot, counted=one.counted, expected=one.counted - one.amount,
            moment=row.moment, reason=row.reason, movement=row, restates_id=one.restates,
            for_use_id=one.what.key if one.restates is None else None, written_at=at, **actor.signature,
        )
        for one, row in zip(derived, rows, strict=True)
    ]  # fmt: skip
    return rows, Count.unscoped.bulk_create(counts, batch_size=A_STEP)
