"""Days are the workshop's local days; moments are aware datetimes."""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

# Clocks of phones differ a little from ours.
CLOCK_SLACK = timedelta(minutes=5)


def local_day(moment: datetime, time_zone: str) -> date:
    """Return the day *moment* falls on in *time_zone*."""
    return moment.astimezone(ZoneInfo(time_zone)).date()


def day_words(day: date, *, today: date) -> str:
    """Return a day as pages and notices say it, ``Tue 10 Mar``; with its year once that is not plain from *today*."""
    words = f"{day:%a} {day.day} {day:%b}"
    return words if abs((today - day).days) < 300 else f"{words} {day.year}"


def local_moment(day: date, clock: time, time_zone: str) -> datetime:
    """Return the moment at which the clock in *time_zone* shows *clock* on *day*.

    When the clocks go forward a wall time may not exist: the answer is then the moment just as
    far after the jump. When they go back and it exists twice, it is the first of the two.
    """
    zone = ZoneInfo(time_zone)
    naive_wall = datetime.combine(day, clock).replace(tzinfo=zone, fold=0)
    return naive_wall.astimezone(ZoneInfo("UTC"))


def first_day_of(weekdays: list[int], *, from_day: date) -> date:
    """Return the first day on or after *from_day* that is one of *weekdays* (Monday is 0)."""
    for offset in range(7):
        day = from_day + timedelta(days=offset)
        if day.weekday() in weekdays:
            return day
    raise ValueError("no weekday given")
