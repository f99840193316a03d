"""The racks on a day to come: what is likely ready and leaves its place, and how wet the rest is by then."""

from bisect import bisect_right
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from curehouse.common.time import day_words
from curehouse.core.cure.ready_by import SURE, Chance, all_ready
from curehouse.curing.models import Cure
from curehouse.curing.models.verdicts import State
from curehouse.curing.obstacles import obstacles_of
from curehouse.curing.outlook import TO_COME, ready_chance, window_word
from curehouse.curing.shelf import DRY_ENOUGH
from curehouse.making.leaving import CHECK_NEEDED
from curehouse.web.marks import mark_in_the_way
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.words import count

MOST_DAYS = 84

_NOT_FORETOLD = "not foretold"


def stays(cure: Cure) -> str:
    """Return in a word or two what keeps a batch (with obstacles) where it is, whatever is foretold; or nothing."""
    found = [one.code for one in obstacles_of(cure) if one.code != CHECK_NEEDED]
    return f"stays: {mark_in_the_way(found[0]).word}" if found else ""


def chance_words(chance: Chance) -> str:
    """Return a probability as so many in ten, no finer than it is known: ``4 in 10``, ``1 to 5 in 10``."""
    low, high = round(10 * chance.low), round(10 * chance.high)
    if low == high:
        return {0: "not yet", 10: "sure"}.get(low, f"{low} in 10")
    if low == 0:
        return f"under {high} in 10"
    return f"over {low} in 10" if high == 10 else f"{low} to {high} in 10"


@dataclass(frozen=True, slots=True)
class Ahead:
    """A day so many days ahead of the visit; 0 is the day itself, and then nothing is foretold."""

    days: int
    calendar: Calendar

    @property
    def on(self) -> date:
        """Return the day."""
        return self.calendar.today + timedelta(days=self.days)

    @property
    def words(self) -> str:
        """Return the day as people write it."""
        return day_words(self.on, today=self.calendar.today)

    @property
    def lead(self) -> str:
        """Return what comes before what is free on the day, where the day is heard only."""
        return f"{self.words}, in {count(self.days, 'day')}. " if self.days else "today: "

    @property
    def every_day(self) -> str:
        """Return the days one can go to as people write them, for a script: the first is today."""
        later = (
            day_words(self.calendar.today + timedelta(days=days), today=self.calendar.today) for days in range(1, MOST_DAYS + 1)
        )
        return "|".join(("today", *later))

    def chance(self, cure: Cure) -> Chance | None:
        """Return how likely a batch is ready by then (its forecast and obstacles at hand); None where nothing tells."""
        if stays(cure):
            return None
        if cure.state in DRY_ENOUGH:
            return SURE
        if cure.forecast is None or cure.state not in TO_COME:
            return None
        return ready_chance(cure.forecast, on=self.on, cut_on=self.calendar.day_of(cure.batch.cut_at))

    def note(self, cure: Cure) -> str:
        """Return what stands beside the mark of a batch that cures, or nothing where its state's word has to stay."""
        if cure.state != State.CURING or stays(cure):
            return ""
        chance = self.chance(cure)
        return _NOT_FORETOLD if chance is None else f"{window_word(cure)}: {chance_words(chance)}"

    def said(self, cure: Cure) -> str:
        """Return the same where nothing is seen."""
        chance = self.chance(cure)
        if stays(cure):
            return "stays"
        if chance == SURE:
            return "dry enough already"
        return _NOT_FORETOLD if chance is None else f"{window_word(cure)} by {self.words}: {chance_words(chance)}"

    def water_left(self, cure: Cure) -> float | None:
        """Return the share of its water still in a batch's bars by then, 0 to 1; None where nothing tells."""
        if cure.forecast is None:
            return None
        day = float((self.on - self.calendar.day_of(cure.batch.cut_at)).days)
        days, told = cure.forecast.asked["days"], cure.forecast.foretold["water_left_pct"]
        after = min(max(bisect_right(days, day), 1), len(days) - 1)
        share = min(max((day - days[after - 1]) / (days[after] - days[after - 1]), 0.0), 1.0)
        left = told[after - 1]["p50"] + share * (told[after]["p50"] - told[after - 1]["p50"])
        return min(max(left / 100, 0.0), 1.0)

    def place_note(self, cures: Collection[Cure]) -> str:
        """Return how likely a place that is taken is free by then; nothing of an empty one."""
        chances = [self.chance(cure) for cure in cures]
        if not chances:
            return ""
        if kept := list(filter(None, map(stays, cures))):
            return kept[0]
        if None in chances:
            return _NOT_FORETOLD
        if all(chance == SURE for chance in chances):
            return "can go now" if all(cure.state == State.READY for cure in cures) else "can go once checked"
        word = "ready" if all(window_word(cure) == "ready" for cure in cures) else "dry enough"
        return f"{word}: {chance_words(all_ready(chances))}"

    def summary(self, stand: Iterable[tuple[Cure, int]], *, free: int) -> str:
        """Return what is free by then over all racks, in bars; of each batch those count that stand on them."""
        stand = list(stand)
        kept = sum(bars for cure, bars in stand if stays(cure))
        known = [(bars, self.chance(cure)) for cure, bars in stand if not stays(cure)]
        sure = sum(bars for bars, chance in known if chance == SURE)
        likely = round(sum(bars * chance.middle for bars, chance in known if chance is not None and chance != SURE))
        unknown = sum(bars for bars, chance in known if chance is None)
        parts = [f"Places for {count(free, 'bar')} are free as it is"]
        parts += [f"{count(sure, 'bar')} {'is' if sure == 1 else 'are'} dry enough already"] if sure else []
        parts.append(f"about {likely} more will be, if all goes as foretold")
        parts += [f"{count(kept, 'bar')} {'stays' if kept == 1 else 'stay'} whatever is foretold"] if kept else []
        parts += [f"of {count(unknown, 'bar')} nothing is foretold"] if unknown else []
        return "; ".join(parts)
