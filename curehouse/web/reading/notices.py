"""Notices as a page lists them, with how each ended and how it left the house."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.urls import reverse

from curehouse.notices.kinds import STOCK, Kind
from curehouse.notices.letters import in_stock_order, stock_words
from curehouse.notices.models import Delivery, Notice
from curehouse.web.marks import Mark, mark_of
from curehouse.web.once import new_key
from curehouse.web.reading.days import Calendar

# The words of Delivery.State, with what a person can do about them.
_MEANING = {
    Delivery.State.WAITING: "waiting to be sent",
    Delivery.State.SENDING: "being sent",
    Delivery.State.UNKNOWN: "perhaps sent: look in the mailbox",
    Delivery.State.FAILED: "not sent",
    Delivery.State.WITHDRAWN: "not sent, it was no longer news",
}


@dataclass(frozen=True, slots=True)
class NoticeRow:
    """A notice on the page."""

    pk: int
    kind: str
    title: str
    url: str
    sentences: tuple[str, ...]
    written: str
    mark: Mark | None
    ended: str
    deliveries: tuple[str, ...]
    form_key: str


def notice_rows(notices: Iterable[Notice], calendar: Calendar) -> list[NoticeRow]:
    """Return *notices* in words; their deliveries and readers must be prefetched."""
    return [
        NoticeRow(
            pk=notice.pk,
            kind=notice.kind,
            title=notice.title,
            url=notice.path,
            sentences=tuple(line for line in notice.body.splitlines() if line.strip()),
            written=calendar.moment(notice.written_at),
            mark=mark_of(notice.mark) if notice.mark else None,
            ended=_ended(notice, calendar),
            deliveries=tuple(_delivery_words(row, calendar) for row in notice.deliveries.all()),
            form_key=new_key(),
        )
        for notice in notices
    ]


@dataclass(frozen=True, slots=True)
class Fold:
    """Notices that ask for one thing together, and where it is done."""

    title: str
    url: str
    rows: tuple[NoticeRow, ...]
    form_key: str
    says_all: bool = False


def fold(rows: Sequence[NoticeRow]) -> tuple[list[Fold], list[NoticeRow]]:
    """Return what asks for one thing together, where several do, and the other rows."""
    weigh = [row for row in rows if row.kind == Kind.WEIGH]
    stock = [row for row in rows if row.kind in STOCK]
    folds = []
    if len(weigh) > 1:
        folds.append(Fold(f"Weigh {len(weigh)} batches", reverse("web:round"), tuple(weigh), new_key()))
    if len(stock) > 1:
        title, ordered = f"The storeroom: {stock_words(stock)}", tuple(in_stock_order(stock))
        folds.append(Fold(title, reverse("web:storeroom"), ordered, new_key(), says_all=True))
    folded = {row.pk for one in folds for row in one.rows}
    return folds, [row for row in rows if row.pk not in folded]


def _ended(notice: Notice, calendar: Calendar) -> str:
    if notice.state == Notice.State.OPEN:
        return ""
    when = f"{notice.get_state_display().capitalize()} {calendar.moment(notice.closed_at)}"
    return f"{when}: {notice.closed_why}" if notice.closed_why else f"{when}."


def _delivery_words(row: Delivery, calendar: Calendar) -> str:
    said = _MEANING.get(Delivery.State(row.state), row.get_state_display())
    when = f", {calendar.moment(row.ended_at)}" if row.ended_at else ""
    why = f" ({row.last_error})" if row.last_error and row.state in (Delivery.State.FAILED, Delivery.State.UNKNOWN) else ""
    return f"{row.get_channel_display().capitalize()} to {row.user}: {said}{when}{why}"
