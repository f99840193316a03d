"""What is to come: pours, cures, markets, and how full the racks are beneath them."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from curehouse.common.time import local_day
from curehouse.curing.models import Cure, ExpectedCure, SampleBar
from curehouse.curing.outlook import TO_COME, ready_chance
from curehouse.curing.shelf import DRY_ENOUGH, ShelfAhead, is_stopped, read_shelf
from curehouse.flows.check_run import Shares, share_out
from curehouse.flows.enter_batch import RackEntry
from curehouse.flows.place_clashes import Cramped, cramped_on
from curehouse.making.models import Batch, Run
from curehouse.selling.models import Market
from curehouse.workshops.models import Workshop

# A quarter of a year: a pour today, its cure, and some weeks beyond.
WEEKS = 13
# A batch counts for a day by which so many of its like are dry enough.
LIKELY = 0.8


@dataclass(frozen=True, slots=True)
class CureToEnd:
    """A cure that goes on: between which days eight of ten such batches are dry enough; None of both where nothing tells.

    ``is_dry`` it was found so by its weighings; ``is_stopped`` its bars go to nobody, whatever they weigh.
    """

    cure: Cure
    cut_on: date
    first_on: date | None
    last_on: date | None
    is_dry: bool
    is_stopped: bool

    def counts_for(self, day: date) -> bool:
        """Return whether its bars are likely dry enough by a day."""
        if self.is_stopped:
            return False
        if self.is_dry:
            return True
        return self.first_on is not None and ready_chance(self.cure.forecast, on=day, cut_on=self.cut_on).low >= LIKELY


@dataclass(frozen=True, slots=True)
class MarketAhead:
    """A market, and the bars for sale that are likely dry enough by its day: of batches that cure, and of planned runs.

    Each bar counts for the first market that it is dry for; ``earlier_bars`` are those of the markets before, which are
    there if none of them is sold. Sample bars are not for sale.
    """

    market: Market
    bars: int
    batches: int
    planned_bars: int
    earlier_bars: int = 0


@dataclass(frozen=True, slots=True)
class CalendarAhead:
    """What is to come within so many weeks, and the racks beneath it."""

    today: date
    until: date
    runs: tuple[Run, ...]
    shares: Shares
    in_moulds: tuple[Batch, ...]
    cures: tuple[CureToEnd, ...]
    markets: tuple[MarketAhead, ...]
    shelf: ShelfAhead
    cramped: dict[int, Cramped]


def calendar_ahead(*, workshop: Workshop, at: datetime) -> CalendarAhead:
    """Return what is to come of a workshop; as many queries however much that is."""
    today = local_day(at, workshop.time_zone)
    shelf = read_shelf(workshop, today)
    cures = tuple(_to_end(cure, workshop.time_zone) for cure in shelf.cures)
    markets = Market.objects.within(workshop).to_come(on=today)
    until = today + timedelta(weeks=WEEKS)
    return CalendarAhead(
        today=today,
        until=until,
        runs=tuple(Run.objects.within(workshop).named().planned()),
        shares=share_out(workshop=workshop, at=at),
        in_moulds=tuple(
            Batch.objects.within(workshop).filter(state=Batch.State.POURED).select_related("formula").newest_first()
        ),
        cures=cures,
        markets=tuple(_ahead(workshop, markets.filter(held_on__lte=until).order_by("held_on", "pk"), cures, shelf.kept)),
        shelf=shelf,
        cramped={one.run.pk: one for one in cramped_on(shelf)},
    )


def _to_end(cure: Cure, zone: str) -> CureToEnd:
    cut_on = local_day(cure.batch.cut_at, zone)
    stopped = is_stopped(cure)
    is_told = cure.forecast is not None and cure.state in TO_COME and not stopped
    first = last = None
    if is_told:
        ready, horizon = cure.forecast.foretold["ready_day"], cure.forecast.asked["rule"]["horizon_days"]
        first = cut_on + timedelta(days=round(ready["p10"])) if ready["p10"] < horizon else None
        last = cut_on + timedelta(days=round(ready["p90"])) if ready["p90"] < horizon else None
    is_dry = cure.state in DRY_ENOUGH and not stopped
    return CureToEnd(cure, cut_on, first, last, is_dry, stopped)


def _ahead(
    workshop: Workshop, markets: Iterable[Market], cures: Iterable[CureToEnd], to_come: Iterable[ExpectedCure]
) -> Iterator[MarketAhead]:
    marked = SampleBar.objects.within(workshop).filter(ended_at__isnull=True).values_list("batch_id", flat=True)
    samples = Counter(marked.filter(batch__in=[one.cure.batch_id for one in cures]))
    left, runs, earlier = list(cures), list(to_come), 0
    # Those that stay are marked at the cut, as many as is usual.
    marks = RackEntry().sample_bars
    for market in markets:
        ready = [one for one in left if one.counts_for(market.held_on)]
        # Of runs, those whose places are free again by then: nine of ten such batches are dry enough.
        free = [one for one in runs if one.is_told and one.stays_until <= market.held_on]
        left, runs = [one for one in left if one not in ready], [one for one in runs if one not in free]
        for_sale = [max(0, one.cure.batch.bars_left - samples[one.cure.batch_id]) for one in ready]
        planned = sum(max(0, one.bars - marks) for one in free)
        yield MarketAhead(market, sum(for_sale), len(ready), planned, earlier)
        earlier += sum(for_sale) + planned
