"""The demo's rooms and the log of their air: a season, spells of damp, a day's own swing. All of it invented."""

import math
import random
from datetime import datetime, timedelta
from decimal import Decimal

from curehouse.curing.models import Rack, RoomReading
from curehouse.curing.services.room_log import AirEntry, record_air
from curehouse.curing.services.rooms import add_room
from curehouse.flows.stand_rack import stand_rack
from curehouse.workshops.actors import Actor

# Room, days of log, readings a day, usual humidity in %, usual temperature in °C.
_ROOMS = (("Drying room", 260, 4, 54.0, 19.0), ("Cellar", 100, 1, 72.0, 12.5))
# What was named first has all racks of which nothing else is said.
_STANDS_IN = {"Cellar": "Cellar stairs"}
_YEAR = 365.25


def log_rooms(*, actor: Actor, at: datetime) -> None:
    """Write the rooms down with what their air was like."""
    for number, (name, days, a_day, humidity, celsius) in enumerate(_ROOMS):
        room, dice = add_room(workshop=actor.workshop, name=name), random.Random(50 + number)  # noqa: S311  (weather, not secrets)
        spell, entries = 0.0, []
        for step in range(days * a_day, 0, -1):
            moment = at - timedelta(days=step / a_day)
            spell = 0.96 ** (4 / a_day) * spell + dice.gauss(0, 1.1)
            season = math.sin(2 * math.pi * moment.timetuple().tm_yday / _YEAR)
            swing = math.sin(2 * math.pi * moment.hour / 24) if a_day > 1 else 0.0
            entries.append(
                AirEntry(
                    moment=moment,
                    humidity_pct=Decimal(f"{min(max(humidity - 4 * season + spell - swing, 20), 95):.1f}"),
                    temperature_c=Decimal(f"{celsius - 1.5 * season + 0.8 * swing + dice.gauss(0, 0.2):.1f}"),
                    source=RoomReading.Source.DEMO,
                    key=f"demo:{step}",
                )
            )
        record_air(actor=actor, room=room, entries=entries, at=at)
        for rack in Rack.objects.within(actor.workshop).filter(name=_STANDS_IN.get(name)):
            stand_rack(actor=actor, rack=rack, room=room, since=None, at=at)
