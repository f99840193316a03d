"""A house's history gone through again: what was said of the weeks to come, and what came."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from curehouse.core.stock.reorder.ahead import Asked, Total, totals
from curehouse.core.stock.reorder.candidate import days_ahead
from curehouse.core.stock.reorder.things import Use, Used
from curehouse.core.stock.reorder.unplanned import learn_rate, learn_season, learn_sizes, pooled_rate

WEEKS_DAYS = 21
STATED = 0.9


@dataclass(frozen=True)
class Said:
    """What was said of a material's use over the weeks to come, and what was used."""

    material: str
    known: int
    total: Total
    came: float

    def held(self, share: float = STATED) -> float:
        """Return 1 if what came lies below what is not passed with the chance of *share*, 0 if above.

        Where the chance of just what came reaches over the share, as of nothing at all it often does, the part of it
        that lies below counts.
        """
        place = round(self.came / self.total.cell)
        upto = float(self.total.below[min(place, len(self.total.below) - 1)])
        before = float(self.total.below[min(place, len(self.total.below)) - 1]) if place else 0.0
        if upto - before < 1e-9:
            return float(upto <= share)
        return float(np.clip((share - before) / (upto - before), 0.0, 1.0))


def replay(materials: Sequence[Used], last_day: date, *, every_days: int = WEEKS_DAYS, least_days: int = 60) -> Iterator[Said]:
    """Yield what is said on each day of the past of which enough is known, without anything that came after it.

    Days of *materials* count from *last_day*, the last that is written down. No run is planned: nobody wrote down when
    one was announced.
    """
    known = max(one.known_days for one in materials)
    for back in range(WEEKS_DAYS, known - least_days + 1, every_days):
        on = last_day - timedelta(days=back)
        then = [
            replace(
                one, uses=[Use(use.day + back, use.quantity) for use in one.uses if use.day <= -back], known_days=known - back
            )
            for one in materials
        ]
        season = learn_season(then, first_month=on.month - 1, day_of_month=on.day)
        pooled, ahead = pooled_rate(then, season), days_ahead(season, ())
        told = [one for one in then if one.uses]
        asked = [
            Asked(learn_rate(one, season, pooled), learn_sizes(one.uses), (), np.array([float(WEEKS_DAYS)]), np.ones(1))
            for one in told
        ]
        of_name = {one.name: one for one in materials}
        for one, total in zip(told, totals(asked, [ahead.everything] * len(asked)), strict=True):
            came = sum(use.quantity for use in of_name[one.name].uses if -back < use.day <= -back + WEEKS_DAYS)
            yield Said(one.name, known - back, total, came)
