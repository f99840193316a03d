"""A session of weighings that is off as a whole or from some bar on: what bars in a row have in common that drying does not."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

# Two bars in a row that are off alike are one cause rather than two: of all weights hardly one in thirty is asked about,
# so two in a row by chance, both to one side and by about as much, come once in some thousands of pairs.
LEAST_IN_A_ROW = 2
# With others among them that are not, more have to be off, and nearly all.
LEAST_BARS = 3
LEAST_SHARE = 0.75
# Each within this share of the middle one: 6 to 9 g are one tray, 2 and 20 g are not.
ALIKE = 0.5
# A part of a session is looked for among so many bars that are asked about, the last; the whole is always looked at.
MOST_LOOKED_AT = 60


@dataclass(frozen=True, slots=True)
class SessionOff:
    """How far the bars of a session are off alike, in grams, negative if lighter than expected.

    Attributes
    ----------
    least_g, most_g
        The least and the most that one of them is off.
    bars
        How many are off alike.
    first, last
        Places in the session, from 0, of the first and the last of them; bars between that are not off are among these.
    """

    least_g: float
    most_g: float
    bars: int
    first: int
    last: int

    @property
    def in_all(self) -> int:
        """Number of bars from the first to the last."""
        return self.last - self.first + 1


def session_off(differences_g: Sequence[float | None], *, still: bool = False) -> SessionOff | None:
    """Say whether a session is off, as a whole or in a part of it; of several parts the longest is said.

    Parameters
    ----------
    differences_g
        Weight minus likeliest weight of each bar, in the order of weighing; None of a bar that was not asked about.
    still
        Whether only a part is looked for that reaches to the last bar, which is off too.
    """
    asked = [place for place, one in enumerate(differences_g) if one is not None]
    near = asked[-MOST_LOOKED_AT:]
    parts = [(asked[0], asked[-1])] if asked else []
    # Of one length the later part: what is off now.
    parts += sorted(
        ((first, last) for first in near for last in near if last > first), key=lambda one: (one[0] - one[1], -one[1])
    )
    end = len(differences_g) - 1
    all_found = (found for part in parts if (found := _off(differences_g, *part)) is not None)
    return next((found for found in all_found if not still or found.last == end), None)


def _off(differences_g: Sequence[float | None], first: int, last: int) -> SessionOff | None:
    of_part = [(place, one) for place, one in enumerate(differences_g[first : last + 1], first) if one is not None]
    middle_g = median(one for _place, one in of_part)
    alike = [(place, one) for place, one in of_part if abs(one - middle_g) <= ALIKE * abs(middle_g)]
    bars = last - first + 1
    if len(alike) < LEAST_BARS and not len(alike) == bars >= LEAST_IN_A_ROW:
        return None
    if len(alike) < LEAST_SHARE * bars:
        return None
    least_g, most_g = sorted((min(one for _place, one in alike), max(one for _place, one in alike)), key=abs)
    return SessionOff(least_g, most_g, len(alike), alike[0][0], alike[-1][0])
