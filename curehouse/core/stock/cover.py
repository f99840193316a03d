"""How fast a material is used up, and for how many days what is here lasts at that rate."""

RECENT_DAYS = 90
# A material that came last week and was used once tells of a fortnight, not of a day.
SHORTEST_DAYS = 14


def daily_use(used: float, known_days: float) -> float | None:
    """Return what was used a day.

    Parameters
    ----------
    used
        Grams or pieces used over the last ``RECENT_DAYS`` days, less what was taken back.
    known_days
        For how many days the material has been here; a shorter span than ``RECENT_DAYS`` is counted
        as it is, one below ``SHORTEST_DAYS`` as that.

    Returns
    -------
    float or None
        Grams or pieces a day; None where nothing was used, for then no rate is known.
    """
    if used <= 0:
        return None
    return used / min(max(known_days, SHORTEST_DAYS), RECENT_DAYS)


def days_of_cover(usable: float, a_day: float | None) -> float | None:
    """Return for how many days *usable* lasts at *a_day*; None where no rate is known."""
    return None if a_day is None else usable / a_day
