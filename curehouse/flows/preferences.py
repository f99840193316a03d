"""A workshop chooses otherwise, and what follows from its choice is reckoned anew."""

from datetime import datetime
from typing import Any

from django.db import transaction

from curehouse.common.locking import lock_rows
from curehouse.curing.services.cures import reckon_due_days
from curehouse.curing.services.forecasts import read_anew
from curehouse.curing.services.room_log import reckon_room_days
from curehouse.flows.due import renew_due
from curehouse.flows.turn_notices import renew_turning
from curehouse.workshops.models import Workshop
from curehouse.workshops.services import change_preferences

# Which day a batch is to be weighed on follows from these.
_DECIDE_DUE_DAYS = ("round_days", "time_zone")
# And which bars are to be turned from these.
_DECIDE_TURNING = ("turn_every_days", "turn_for_days", "time_zone")


@transaction.atomic
def choose(*, workshop: Workshop, changes: dict[str, Any], at: datetime) -> Workshop:
    """Change preferences (names as :func:`change_preferences` knows them); reckon due days anew.

    A changed ready rule speaks from each batch's next weighing or the next morning on.
    """
    row = lock_rows(Workshop.objects.all(), [workshop.pk])[workshop.pk]
    before, zone = [getattr(row, name) for name in _DECIDE_DUE_DAYS], row.time_zone
    turning = [getattr(row, name) for name in _DECIDE_TURNING]
    change_preferences(workshop=row, changes=changes)
    if [getattr(row, name) for name in _DECIDE_DUE_DAYS] != before:
        reckon_due_days(workshop=row)
        renew_due(workshop=row, at=at)
    if [getattr(row, name) for name in _DECIDE_TURNING] != turning:
        renew_turning(workshop=row, at=at)
    if row.time_zone != zone:
        # Days begin elsewhere: of weighings as of rooms.
        read_anew(workshop=row, at=at)
        reckon_room_days(workshop=row)
    return row
