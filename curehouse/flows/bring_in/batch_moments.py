"""When batches of a file were cut and weighed: days and day numbers into moments on the workshop's clock."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal

from curehouse.common.time import local_day, local_moment
from curehouse.flows.bring_in.batch_plan import BatchPlan, WeightPlan
from curehouse.workshops.models import Workshop

# A day without a time stands for its noon, so that days between two of them are whole.
NOON = time(12)


@dataclass(frozen=True, slots=True)
class Clock:
    """The workshop's clock as of *at*."""

    time_zone: str
    at: datetime

    @classmethod
    def of(cls, workshop: Workshop, at: datetime) -> "Clock":
        """Return the clock of a workshop."""
        return cls(workshop.time_zone, at)

    @property
    def today(self) -> date:
        """Return the local day."""
        return local_day(self.at, self.time_zone)

    def moment(self, when: date | datetime, *, clock: time = NOON) -> datetime:
        """Return the moment of a wall time or of a day; of today it is not later than now."""
        if isinstance(when, datetime):
            return local_moment(when.date(), when.time(), self.time_zone)
        moment = local_moment(when, clock, self.time_zone)
        return self.at if moment > self.at and when == self.today else moment


@dataclass(frozen=True, slots=True)
class Weighed:
    """A weighing with its moment; ``said`` is its day (and time, where one was said), the same however it was written."""

    plan: WeightPlan
    moment: datetime
    said: str


def cut_of(plan: BatchPlan) -> date | datetime | None:
    """Return the cut that the file says, or the day of the first weighing where all of them have dates."""
    told = plan.facts.get("cut_on")
    if told is not None:
        return told
    days = [one.on for one in plan.weights]
    if not days or any(day is None for day in days):
        return None
    return min(day.date() if isinstance(day, datetime) else day for day in days if day is not None)


def weighed(plan: WeightPlan, *, cut_at: datetime, clock: Clock) -> Weighed:
    """Return when a bar was weighed, given when its batch was cut."""
    if plan.on is not None:
        moment = clock.moment(plan.on)
        # Without a time, what was weighed on the day of the cut was weighed at the cut.
        if not isinstance(plan.on, datetime) and plan.on == local_day(cut_at, clock.time_zone):
            moment = cut_at
        return Weighed(plan, moment, plan.on.isoformat())
    days = plan.days or Decimal(0)
    whole = int(days)
    day = local_day(cut_at, clock.time_zone) + timedelta(days=whole)
    if days != whole:
        part = timedelta(days=float(days - whole))
        return Weighed(plan, clock.moment(day) + part, f"{day.isoformat()}+{days - whole}")
    return Weighed(plan, cut_at if whole == 0 else clock.moment(day), day.isoformat())
