"""The only writer of racks and their positions."""

from django.db import transaction
from django.db.models import Max

from curehouse.common.constraints import answered
from curehouse.common.errors import Conflict, Invalid
from curehouse.common.locking import lock_rows
from curehouse.curing.models import Position, Rack
from curehouse.making.services import MOST_BARS
from curehouse.workshops.models import Workshop
from curehouse.workshops.services import clean_name

MOST_LEVELS = 20
MOST_PLACES = 20
LARGEST_CAPACITY = MOST_BARS


def _within(number: int, most: int, *, field: str, what: str) -> int:
    if not 1 <= number <= most:
        raise Invalid(field, f"{what} lies between 1 and {most}.", field=field)
    return number


@transaction.atomic
def add_rack(*, workshop: Workshop, name: str, levels: int, places: int, capacity_bars: int) -> Rack:
    """Write a rack with so many levels, each with so many places for so many bars."""
    _within(levels, MOST_LEVELS, field="levels", what="The number of levels")
    _within(places, MOST_PLACES, field="places", what="The number of places on a level")
    _within(capacity_bars, LARGEST_CAPACITY, field="capacity_bars", what="The number of bars at a place")
    clean = clean_name(name, field="name", what="The rack's name", longest=80)
    last = Rack.objects.within(workshop).aggregate(last=Max("order"))["last"] or 0
    taken = Invalid("name_taken", f"There is a rack called {clean} already: choose another name.", field="name")
    with answered(Rack, {"rack_name_once": taken}):
        rack = Rack.unscoped.create(workshop=workshop, name=clean, order=last + 1)
    Position.unscoped.bulk_create(
        Position(workshop=workshop, rack=rack, level=level, place=place, capacity_bars=capacity_bars)
        for level in range(1, levels + 1)
        for place in range(1, places + 1)
    )
    return rack


@transaction.atomic
def rename_rack(*, rack: Rack, name: str) -> Rack:
    """Give a rack another name."""
    clean = clean_name(name, field="name", what="The rack's name", longest=80)
    taken = Invalid("name_taken", f"There is a rack called {clean} already: choose another name.", field="name")
    row = lock_rows(Rack.unscoped.all(), [rack.pk])[rack.pk]
    row.name = clean
    with answered(Rack, {"rack_name_once": taken}):
        row.save(update_fields=["name"])
    return row


@transaction.atomic
def set_capacity(*, position: Position, capacity_bars: int) -> Position:
    """Say how many bars a position holds; never fewer than stand there."""
    _within(capacity_bars, LARGEST_CAPACITY, field="capacity_bars", what="The number of bars at a place")
    row = lock_rows(Position.unscoped.select_related("rack"), [position.pk])[position.pk]
    if capacity_bars < row.bars_held:
        raise Conflict("position_full", f"{row} holds {row.bars_held} bars now: move some first.", field="capacity_bars")
    position.capacity_bars = capacity_bars
    position.save(update_fields=["capacity_bars"])
    return position
