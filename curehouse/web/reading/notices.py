"""Notices as a page lists them, with how each ended and how it left the house."""

from collections.abc import Iterable
from dataclasses import dataclass

from curehouse.notices.kinds import Kind
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


def fold_weighing(rows: list[NoticeRow]) -> tuple[list[NoticeRow], list[NoticeRow]]:
    """Return *rows* without those of batches to weigh, and these: one round, where there are several."""
    weigh = [row for row in rows if row.kind == Kind.WEIGH]
    if len(weigh) < 2:
        return rows, []
    return [row for row in rows if row.kind != Kind.WEIGH], weigh


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
