"""When a workshop's morning has come, and that it comes once a local day."""

from datetime import date, datetime, timedelta

from django.db import transaction
from django.db.models import Q

from curehouse.common.time import local_day, local_moment
from curehouse.workshops.models import Workshop

# A workshop that moved west may have had its morning "tomorrow". A day further ahead was noted by
# a clock that was wrong for a while, and must not keep mornings away until it comes.
_FARTHEST_AHEAD = timedelta(days=1)


def morning_due(*, workshop: Workshop, at: datetime) -> date | None:
    """Return the local day whose morning has come and is not done, or None.

    A morning nobody was there for is made up for on the same local day only. Clock changes need
    no care of their own: the day decides, not the wall time.
    """
    today = local_day(at, workshop.time_zone)
    done_on = workshop.morning_done_on
    if done_on is not None and today <= done_on <= today + _FARTHEST_AHEAD:
        return None
    return today if at >= local_moment(today, workshop.morning_at, workshop.time_zone) else None


@transaction.atomic
def claim_morning(*, workshop: Workshop, day: date) -> bool:
    """Note that the morning of *day* is done; False if another did it first."""
    not_done = Q(morning_done_on__isnull=True) | Q(morning_done_on__lt=day) | Q(morning_done_on__gt=day + _FARTHEST_AHEAD)
    return Workshop.objects.filter(not_done, pk=workshop.pk).update(morning_done_on=day) == 1
