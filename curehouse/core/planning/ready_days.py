"""On which day a batch that is to come may be dry enough, as so many days that are each as likely as the next."""

from bisect import bisect_right
from dataclasses import dataclass
from math import ceil


@dataclass(frozen=True, slots=True)
class ReadyDays:
    """Whole days since the cut on which such batches are dry enough.

    Attributes
    ----------
    days
        In ascending order; those that are not dry enough by the last day looked at are left out.
    count
        How many there are with those.
    last_day
        So far it was looked.

    Raises
    ------
    ValueError
        If the days are not in order, lie beyond the last one or are more than there are.
    """

    days: tuple[int, ...]
    count: int
    last_day: int

    def __post_init__(self) -> None:
        if not 0 < self.count >= len(self.days):
            raise ValueError("of no batches nothing is expected")
        if list(self.days) != sorted(self.days) or (self.days and self.days[-1] > self.last_day):
            raise ValueError("the days stand in order, up to the last one looked at")

    def share_by(self, day: int) -> float:
        """Return what share (0 to 1) of such batches is dry enough by the end of a day."""
        return bisect_right(self.days, day) / self.count

    def day_of(self, share: float) -> int | None:
        """Return the first day by which a share (above 0, up to 1) or more is dry enough; None if none looked at is.

        Raises
        ------
        ValueError
            If the share is none.
        """
        if not 0 < share <= 1:
            raise ValueError("a share lies above 0 and up to 1")
        place = ceil(share * self.count - 1e-9)
        return self.days[place - 1] if place <= len(self.days) else None
