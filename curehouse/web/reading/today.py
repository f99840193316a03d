"""What needs a hand today, as Today shows it."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import ceil

from django.urls import reverse

from curehouse.curing.models import Cure, Occupancy, Rack, Reading
from curehouse.curing.models.verdicts import CHECK_FAILED, State
from curehouse.curing.obstacles import obstacles_of
from curehouse.curing.outlook import window_word
from curehouse.curing.rounds import walk_of_day
from curehouse.making.leaving import CHECK_NEEDED
from curehouse.making.models import Batch
from curehouse.notices.channels.mailbox import mail_is_set_up
from curehouse.notices.kinds import FORETOLD, STOCK, Kind
from curehouse.notices.letters import in_stock_order
from curehouse.notices.models import Delivery, Notice
from curehouse.web.marks import mark_of
from curehouse.web.reading.days import Calendar, day_words
from curehouse.web.reading.forecast import short_window
from curehouse.web.reading.hands import failed, in_hand_order, likely_ready_on, needs_a_hand
from curehouse.web.reading.rows import Row
from curehouse.web.reading.standing import Standing
from curehouse.web.reading.to_order import names_of, order_row, put_off_rows
from curehouse.web.reading.words import count, without_place
from curehouse.workshops.models import Workshop
from inventory.models import Material
from inventory.to_order import read_to_order

# Walking, setting the bar on the scale, typing and going on (our own estimate).
SECONDS_A_BAR = 20
_HELD = "held: its bars go to nobody"
MOST_STOCK_ROWS = 5
# So many of those that cure are named as ready next.
MOST_NEXT = 3


@dataclass(frozen=True, slots=True)
class ToWeigh:
    """The sample bars that are due."""

    bars: int
    batches: int
    is_begun: bool

    @property
    def minutes(self) -> int:
        """Return about how long the round takes."""
        return ceil(self.bars * SECONDS_A_BAR / 60)


@dataclass(frozen=True, slots=True)
class Waiting:
    """The weights a person has still to keep or correct, and the batches on whose pages that is done."""

    sentence: str
    batches: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class OfStock:
    """What the storeroom wants: the first few, and the rest folded away."""

    first: tuple[Row, ...]
    more: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Today:
    """Everything on the page; ``next_round`` is said where nothing is due."""

    date: str
    weigh: ToWeigh | None
    next_round: str
    look_at: tuple[Row, ...]
    foretold: tuple[Row, ...]
    waiting: Waiting
    seen_to: tuple[Row, ...]
    next_ready: tuple[Row, ...]
    to_cut: tuple[Row, ...]
    stock: OfStock
    put_off: tuple[Row, ...]
    without_place: tuple[Row, ...]
    mail_trouble: tuple[Row, ...]
    mail_is_missing: bool
    has_rack: bool
    has_batch: bool

    @property
    def is_new(self) -> bool:
        """Return whether the workshop still has to put up a rack or enter its first batch."""
        return not (self.has_rack and self.has_batch)

    @property
    def is_quiet(self) -> bool:
        """Return whether nothing on the page asks for anybody."""
        asks = (
            self.weigh,
            self.look_at,
            self.waiting.batches,
            self.to_cut,
            self.stock.first,
            self.without_place,
            self.mail_trouble,
        )
        return self.has_batch and not any((*asks, self.mail_trouble))


def read_today(workshop: Workshop, calendar: Calendar, *, at: datetime) -> Today:
    """Read what is due, what asks for a hand and what went wrong with the mail (eleven queries)."""
    cures = in_hand_order(Cure.objects.within(workshop).going_on().with_forecast().with_obstacles(), calendar)
    standing = Standing(Occupancy.objects.within(workshop).standing())
    notices = list(Notice.objects.within(workshop).open().newest_first())
    asked = [cure for cure in cures if needs_a_hand(cure)]
    open_about = {(notice.about, notice.kind) for notice in notices}
    stands_open = [_stands_open(cure, open_about) for cure in asked]
    rows = [_cure_row(cure, standing, calendar) for cure in asked]
    poured = list(Batch.objects.within(workshop).open().filter(state=Batch.State.POURED).select_related("formula"))
    ordering = read_to_order(workshop=workshop, on=calendar.today)
    keys = {line["material"] for one in ordering.proposed.values() for line in one.lines} | ordering.put_off.keys()
    names = names_of(Material.objects.within(workshop).in_use().filter(pk__in=keys))
    to_decide = {one.pk: order_row(one, ordering, names, calendar.today) for one in notices if one.kind == Kind.ORDER_TO_DECIDE}
    return Today(
        date=day_words(calendar.today, today=calendar.today),
        weigh=_to_weigh(workshop, at=at),
        next_round=_next_round(cures, calendar),
        look_at=(*_kept(rows, stands_open, wanted=True), *_other_notices(notices, cures, calendar, to_decide)),
        foretold=tuple(_foretold(notices)),
        waiting=_waiting([cure.batch for cure in cures], workshop),
        seen_to=_kept(rows, stands_open, wanted=False),
        next_ready=tuple(_next_ready(_untold(cures, open_about), standing, calendar))[:MOST_NEXT],
        stock=_of_stock(notices),
        put_off=tuple(put_off_rows(ordering, names, calendar.today)),
        to_cut=tuple(_cut_row(batch, calendar) for batch in poured),
        without_place=tuple(_loose_rows([cure.batch for cure in cures], standing)),
        mail_trouble=tuple(_mail_rows(workshop)),
        mail_is_missing=not mail_is_set_up(),
        has_rack=Rack.objects.within(workshop).exists(),
        has_batch=bool(cures or poured) or Batch.objects.within(workshop).exists(),
    )


def _stands_open(cure: Cure, open_about: set[tuple[str, str]]) -> bool:
    """Return whether nobody has seen to it: a state that is told has a notice that is still open."""
    untold = cure.state == State.NOT_WEIGHED
    return untold or not _told_as(cure).isdisjoint(open_about)


def _told_as(cure: Cure) -> set[tuple[str, str]]:
    """Return what a notice that says the same as the cure's row is about, and its kind."""
    kinds = {cure.state, cure.shown_as, CHECK_FAILED if failed(cure) else cure.state}
    return {(f"batch:{cure.batch_id}", kind) for kind in kinds}


def _kept(rows: Sequence[Row], flags: Sequence[bool], *, wanted: bool) -> tuple[Row, ...]:
    return tuple(row for row, flag in zip(rows, flags, strict=True) if flag is wanted)


def _cure_row(cure: Cure, standing: Standing, calendar: Calendar) -> Row:
    batch = cure.batch
    return Row(
        name=str(batch),
        url=reverse("web:batch", args=[batch.pk]),
        note=f"cut {calendar.day(batch.cut_at)}, {standing.place_words(batch.pk)}",
        mark=mark_of(CHECK_FAILED if failed(cure) else cure.shown_as),
        said=_HELD if cure.hold_cause is not None else _said(cure, calendar),
    )


def _untold(cures: Iterable[Cure], open_about: set[tuple[str, str]]) -> list[Cure]:
    """Return the cures of which no open notice says already that they are ready soon."""
    return [cure for cure in cures if (f"batch:{cure.batch_id}", Kind.READY_SOON) not in open_about]


def _next_ready(cures: Iterable[Cure], standing: Standing, calendar: Calendar) -> Iterable[Row]:
    """Yield the batches that cure and have a ready window, the soonest first."""
    for cure in sorted(cures, key=lambda cure: (likely_ready_on(cure, calendar), cure.batch.number)):
        window = short_window(cure, calendar)
        stays = {one.code for one in obstacles_of(cure)} - {CHECK_NEEDED}
        if window is not None and not stays:
            yield Row(
                name=str(cure.batch),
                url=reverse("web:batch", args=[cure.batch_id]),
                note=standing.place_words(cure.batch_id),
                mark=mark_of(cure.shown_as),
                said=window.said if window.is_over else f"{window_word(cure)} {window.note}, 8 in 10",
            )


def _said(cure: Cure, calendar: Calendar) -> str:
    """Return the one thing to know of a cure, short enough to stand under its mark."""
    reasons = cure.assessment.reasons if cure.assessment else []
    if failed(cure):
        return "dry enough" if cure.state == State.CHECK_DUE else cure.get_state_display()
    if cure.state == State.READY:
        return count(cure.batch.bars_left, "bar")
    if cure.state == State.NOT_WEIGHED:
        return f"since {calendar.day(cure.last_weighed_at or cure.batch.cut_at)}"
    if cure.state == State.LOOK_AGAIN:
        doubtful = sum(
            figure["name"] == "weight" for reason in reasons if reason["code"] == "doubtful" for figure in reason["figures"]
        )
        return f"{count(doubtful, 'weight')} in doubt" if doubtful else "gained more than damp air brings"
    if cure.state == State.CHECK_DUE:
        return "no check yet"
    return reasons[0]["text"].rstrip(".") if reasons else ""


def _other_notices(
    notices: Iterable[Notice], cures: Iterable[Cure], calendar: Calendar, to_decide: Mapping[int, Row | None]
) -> list[Row]:
    """Return the open notices that no row of a cure, no round and no look into the storeroom speaks of.

    *to_decide*: what is said of orders that are to be decided, by the keys of their notices.
    """
    shown = set().union(*map(_told_as, cures))
    return [
        to_decide.get(notice.pk)
        or Row(
            name=notice.title,
            url=notice.path,
            note=calendar.day(notice.written_at),
            mark=mark_of(notice.mark) if notice.mark else None,
        )
        for notice in notices
        if notice.kind not in (Kind.WEIGH, *STOCK, *FORETOLD) and (notice.about, notice.kind) not in shown
    ]


def _foretold(notices: Iterable[Notice]) -> Iterable[Row]:
    """Return what is told of forecasts, what may be rescued first."""
    for notice in sorted((one for one in notices if one.kind in FORETOLD), key=lambda one: FORETOLD.index(one.kind)):
        yield Row(name=notice.title, url=notice.path, note=notice.body.splitlines()[0], mark=mark_of(notice.mark))


def _of_stock(notices: Iterable[Notice]) -> OfStock:
    rows = [
        Row(name=notice.title, url=notice.path, note=notice.body.splitlines()[0], mark=mark_of(notice.mark))
        for notice in in_stock_order(one for one in notices if one.kind in STOCK)
    ]
    # One more is no longer than the line that would hide it.
    shown = len(rows) if len(rows) <= MOST_STOCK_ROWS + 1 else MOST_STOCK_ROWS
    return OfStock(first=tuple(rows[:shown]), more=tuple(rows[shown:]))


def _waiting(batches: Iterable[Batch], workshop: Workshop) -> Waiting:
    curing = {batch.pk: batch for batch in batches}
    asked = Counter(Reading.objects.within(workshop).still_asked(curing).values_list("bar__batch", flat=True))
    many = asked.total()
    return Waiting(
        sentence=f"{count(many, 'weight')} {'is' if many == 1 else 'are'} waiting for your answer" if many else "",
        batches=tuple(
            Row(name=str(curing[pk]), url=f"{reverse('web:batch', args=[pk])}#asked", note=str(asked[pk]))
            for pk in sorted(asked, key=lambda pk: curing[pk].number)
        ),
    )


def _to_weigh(workshop: Workshop, *, at: datetime) -> ToWeigh | None:
    walk = walk_of_day(workshop, at=at)
    batches = {stop.batch.pk for stop in walk.left}
    return ToWeigh(bars=len(walk.left), batches=len(batches), is_begun=len(walk.left) < len(walk.stops)) if batches else None


def _next_round(cures: Iterable[Cure], calendar: Calendar) -> str:
    """Return the next day something is due, past today."""
    days = [cure.due_on for cure in cures if cure.due_on is not None and cure.due_on > calendar.today]
    return day_words(min(days), today=calendar.today) if days else ""


def _cut_row(batch: Batch, calendar: Calendar) -> Row:
    return Row(
        name=str(batch),
        url=reverse("web:batch_cut", args=[batch.pk]),
        note=f"poured {calendar.day(batch.poured_at)}",
        mark=mark_of(batch.state),
        said=f"day {calendar.days_since(batch.poured_at)} in the mould",
    )


def _loose_rows(batches: Iterable[Batch], standing: Standing) -> Iterable[Row]:
    for batch in batches:
        loose = standing.loose(batch)
        if loose > 0:
            yield Row(
                name=str(batch),
                url=reverse("web:batch_place", args=[batch.pk]),
                note=without_place(loose, batch.bars_left),
            )


def _mail_rows(workshop: Workshop) -> Iterable[Row]:
    for delivery in Delivery.objects.within(workshop).gone_wrong():
        yield Row(
            name=delivery.notice.title,
            url=reverse("web:notices"),
            note=f"{delivery.get_channel_display()} to {delivery.user}",
            said=delivery.get_state_display(),
        )
