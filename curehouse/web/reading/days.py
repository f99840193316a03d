"""Days and moments as people in the workshop write them."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

from curehouse.common.time import day_words, local_day
from curehouse.workshops.models import Workshop


def ago_words(days: int) -> str:
    """Return how long ago something was, in whole days."""
    if days <= 0:
        return "today"
    return "yesterday" if days == 1 else f"{days} days ago"


class Calendar:
    """The workshop's own days, seen from the one moment of a visit."""

    def __init__(self, workshop: Workshop, at: datetime) -> None:
        self.zone = workshop.time_zone
        self.today = local_day(at, self.zone)

    def day_of(self, moment: datetime) -> date:
        """Return the local day of a moment."""
        return local_day(moment, self.zone)

    def day(self, moment: datetime) -> str:
        """Return a moment's day: ``Tue 10 Mar``."""
        return day_words(self.day_of(moment), today=self.today)

    def moment(self, moment: datetime) -> str:
        """Return a moment's day and clock time: ``Tue 10 Mar, 09:05``."""
        return f"{self.day(moment)}, {moment.astimezone(ZoneInfo(self.zone)):%H:%M}"

    def days_since(self, moment: datetime) -> int:
        """Return how many local days ago a moment was."""
        return (self.today - self.day_of(moment)).days

    def ago(self, moment: datetime) -> str:
        """Return a moment as ``yesterday`` or ``5 days ago``."""
        return ago_words(self.days_since(moment))
