"""The only writer of markets."""

from datetime import date, datetime

from django.db import transaction

from curehouse.common.constraints import answered
from curehouse.common.errors import Conflict, Invalid
from curehouse.common.locking import lock_rows
from curehouse.common.time import local_day
from curehouse.selling.models import Market
from curehouse.workshops.actors import Actor
from curehouse.workshops.services import clean_name

LONGEST_NAME = 80
LONGEST_NOTE = 400
# Nobody sells at a market that lies so far off; a year beyond is a slip.
_FARTHEST_DAYS = 730


def _clean(name: str, held_on: date, note: str, *, today: date) -> tuple[str, str, Invalid]:
    clean = clean_name(name, field="name", what="The market's name", longest=LONGEST_NAME)
    if not 0 <= (held_on - today).days <= _FARTHEST_DAYS:
        raise Invalid("day", "Choose a day from today on, within two years.", field="held_on")
    said = " ".join(note.split())
    if len(said) > LONGEST_NOTE:
        raise Invalid("too_long", f"The note is too long: shorten it to {LONGEST_NOTE} characters.", field="note")
    taken = Invalid("name_taken", f"{clean} is on that day already: choose another name or day.", field="name")
    return clean, said, taken


@transaction.atomic
def add_market(*, actor: Actor, name: str, held_on: date, note: str = "", at: datetime) -> Market:
    """Write down where and when bars are wanted."""
    clean, said, taken = _clean(name, held_on, note, today=local_day(at, actor.workshop.time_zone))
    with answered(Market, {"market_once": taken}):
        return Market.unscoped.create(
            workshop=actor.workshop, name=clean, held_on=held_on, note=said, written_at=at, **actor.signature
        )


@transaction.atomic
def change_market(*, actor: Actor, market: Market, name: str, held_on: date, note: str = "", at: datetime) -> Market:
    """Put a market on another day, or call it otherwise; the trail keeps who did."""
    row = _lock(market)
    today = local_day(at, actor.workshop.time_zone)
    # One that is over keeps its day; only what is to come can be moved.
    row.name, row.note, taken = _clean(name, held_on, note, today=min(today, row.held_on) if held_on == row.held_on else today)
    row.held_on = held_on
    with answered(Market, {"market_once": taken}):
        row.save(update_fields=["name", "held_on", "note"])
    return row


@transaction.atomic
def call_off_market(*, market: Market, at: datetime) -> Market:
    """Say that a market is not held, or that nobody goes there."""
    row = _lock(market)
    row.called_off_at = at
    row.save(update_fields=["called_off_at"])
    return row


def _lock(market: Market) -> Market:
    row = lock_rows(Market.unscoped.all(), [market.pk])[market.pk]
    if row.called_off_at is not None:
        raise Conflict("called_off", f"{row} is called off already: add a market instead.")
    return row
