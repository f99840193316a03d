"""A whole session of weighings that is off: what several bars, of whatever batches, have in common that drying does not."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

# Fewer bars may each have a reason of their own; of more, nearly all must be off for one reason to be likely.
LEAST_BARS = 3
LEAST_SHARE = 0.75
# Each within this share of the middle one: 6 to 9 g are one tray, 2 and 20 g are not.
ALIKE = 0.5


@dataclass(frozen=True, slots=True)
class SessionOff:
    """How far the bars of a session are off alike, in grams, negative if lighter than expected; and how many are."""

    least_g: float
    most_g: float
    bars: int


def session_off(differences_g: Sequence[float], *, weighed: int) -> SessionOff | None:
    """Say whether a session is off as a whole.

    Parameters
    ----------
    differences_g
        Weight minus likeliest weight, of the bars that are asked about.
    weighed
        Number of bars weighed in the session, asked about or not.
    """
    if not differences_g:
        return None
    middle_g = median(differences_g)
    alike = [one for one in differences_g if abs(one - middle_g) <= ALIKE * abs(middle_g)]
    if len(alike) < max(LEAST_BARS, LEAST_SHARE * weighed):
        return None
    least_g, most_g = sorted((min(alike), max(alike)), key=abs)
    return SessionOff(least_g, most_g, len(alike))
