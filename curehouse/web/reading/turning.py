"""Bars that are to be turned, as a page lists them, and when they were."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from curehouse.curing.models import Turning
from curehouse.curing.turning import ToTurn
from curehouse.flows.turn_notices import since_words
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.standing import NOWHERE
from curehouse.web.reading.words import count


@dataclass(frozen=True, slots=True)
class TurnRow:
    """A batch on the walk."""

    pk: int
    name: str
    is_ticked: bool
    due: str
    last: str
    places: tuple[str, ...]


def turn_rows(due: Iterable[ToTurn], ticked: Collection[int], calendar: Calendar) -> list[TurnRow]:
    """Return the batches whose bars are to be turned, in words."""
    return [
        TurnRow(
            pk=one.batch.pk,
            name=str(one.batch),
            is_ticked=one.batch.pk in ticked,
            due=since_words(one.due_on, calendar.today),
            last=f"cut {calendar.day(one.batch.cut_at)}, not turned yet"
            if one.last_at is None
            else f"last turned {calendar.day(one.last_at)}",
            places=tuple(_places(one)),
        )
        for one in due
    ]


def _places(one: ToTurn) -> Sequence[str]:
    loose = one.batch.bars_left - sum(row.bars for row in one.stands)
    stands = [f"{row.position}: {count(row.bars, 'bar')}" for row in one.stands]
    return [*stands, f"{NOWHERE}: {count(loose, 'bar')}"] if loose else stands


def turned_words(rows: Sequence[Turning], calendar: Calendar) -> tuple[str, ...]:
    """Return when all bars of a batch were turned, and by whom."""
    return tuple(f"All bars turned {calendar.moment(row.turned_at)}, {row.signed_by}" for row in rows)
