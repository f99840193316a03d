"""What a cure log says, held against what the house knows: what is new, what is here, what cannot be."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from uuid import UUID

from curehouse.common.errors import Invalid
from curehouse.common.time import local_day
from curehouse.curing.models import Position
from curehouse.flows.bring_in.batch_known import Known, known_to, marks_here, places_here, weights_here
from curehouse.flows.bring_in.batch_moments import Clock, Weighed, cut_of, weighed
from curehouse.flows.bring_in.batch_plan import MOST_SAMPLE_BARS, BatchPlan
from curehouse.flows.bring_in.batch_weights import NewWeight, each_once
from curehouse.flows.bring_in.cells import CellFault, Cells, bare_number
from curehouse.flows.bring_in.options import Options
from curehouse.flows.bring_in.outcome import MOST_LEFT_OUT, Findings
from curehouse.flows.bring_in.work import Work
from curehouse.making.lye import is_lye_doubtful
from curehouse.making.models import Batch

ADDED = ("batches", "batches that still cure", "sample bars", "weighings")
KNOWN = ("batches", "weighings")


@dataclass(slots=True)
class SettledBatch:
    """A batch of the file, with what of it is to be written; ``batch`` is its row where it is here already."""

    plan: BatchPlan
    batch: Batch | None
    cut_at: datetime
    poured_at: datetime | None
    share: Decimal
    formula: str
    is_over: bool
    bars: int
    labels: list[str]
    weights: list[NewWeight] = field(default_factory=list)
    position: Position | None = None

    @property
    def is_lye_doubtful(self) -> bool:
        """It is new, and its lye cannot be meant for its fats; False where one of them is not known."""
        facts = self.plan.facts
        fats_g, lye_g = facts.get("fats"), facts.get("lye")
        if self.batch is not None or fats_g is None or lye_g is None:
            return False
        return is_lye_doubtful(fats_g=fats_g, lye_g=lye_g, koh_g=facts.get("koh") or Decimal(0))


@dataclass(slots=True)
class Tally:
    """What a file would bring, counted; of the batches left out the first are named."""

    adds: Counter[str] = field(default_factory=Counter)
    known: Counter[str] = field(default_factory=Counter)
    left_out: list[str] = field(default_factory=list)
    left_out_count: int = 0
    cut_by_weighing: int = 0
    closed: int = 0
    first_closed: str = ""
    doubtful_lye: int = 0
    first_doubtful_lye: str = ""

    def leave_out(self, mark: str) -> None:
        """Count a batch that is left out."""
        self.left_out_count += 1
        if len(self.left_out) < MOST_LEFT_OUT:
            self.left_out.append(mark)

    def count(self, one: SettledBatch) -> None:
        """Count what a batch adds."""
        if one.is_lye_doubtful:
            self.doubtful_lye += 1
            lye_g, fats_g = (f"{one.plan.facts[key].normalize():f} g" for key in ("lye", "fats"))
            said = f"{one.plan.mark}: {lye_g} of lye does not fit {fats_g} of fats"
            self.first_doubtful_lye = self.first_doubtful_lye or said
        if one.batch is None:
            self.adds["batches"] += 1
            self.adds["batches that still cure"] += not one.is_over
            self.cut_by_weighing += "cut_on" not in one.plan.facts
        self.adds["sample bars"] += len(one.labels)
        self.adds["weighings"] += len(one.weights)


def _is_here_bare(plan: BatchPlan, marks: Mapping[str, int]) -> bool:
    """Whether a batch is here by its number alone, from before zeros were read as they are shown; refused, not doubled."""
    bare = bare_number(plan.table.cell(plan.row, "batch"))
    if bare.casefold() not in marks:
        return False
    said = f"is here as “{bare}”, brought in without the zeros its number format shows"
    plan.refuse("batch", f"{said}: give the column a plain number format, or leave the batch out")
    return True


class Settling:
    """Settles the batches of one file, some at a time; the house is looked up in a few queries for all of these.

    ``here`` are the keys of those that the house knows.
    """

    def __init__(self, work: Work, findings: Findings, *, over_after: timedelta, names_places: bool) -> None:
        self._work, self._findings, self._over_after = work, findings, over_after
        self._clock = Clock.of(work.workshop, work.at)
        self._share = _share_for_all(work.options)
        self._marks = marks_here(work.workshop)
        self._places = places_here(work.workshop) if names_places else {}
        self._bars_free = sum(position.bars_free for position in self._places.values())
        self._known = Known()
        self.here: list[int] = []
        self.tally = Tally(Counter(dict.fromkeys(ADDED, 0)), Counter(dict.fromkeys(KNOWN, 0)))

    def settle(self, plans: Sequence[BatchPlan]) -> list[SettledBatch]:
        """Settle some batches; what is refused is among the findings."""
        here = [self._marks[plan.mark.casefold()] for plan in plans if plan.mark.casefold() in self._marks]
        self.here += here
        self._known = known_to(self._work.workshop, here)
        found = [self._settle(plan) for plan in plans]
        settled = [one for one in found if one is not None]
        self._leave_out_known([one for one in settled if one.batch is not None])
        for one in settled:
            self._look_for_room(one)
            self.tally.count(one)
        return settled

    def _leave_out_known(self, settled: Sequence[SettledBatch]) -> None:
        """Leave out what is here already; another weight under the same bar and day is refused."""
        earlier = weights_here(self._work.workshop, [weight.client_id for one in settled for weight in one.weights])
        for one in settled:
            if one.is_over and one.plan.facts.get("still_curing"):
                self.tally.closed += 1
                self.tally.first_closed = self.tally.first_closed or str(one.batch)
            self.tally.known["batches"] += 1
            self.tally.known["weighings"] += _leave_out(one, earlier)
            _refuse_gone(one, self._known.bars_of(one.batch))

    def _settle(self, plan: BatchPlan) -> SettledBatch | None:
        here = self._known.batches.get(plan.mark.casefold())
        if here is None and _is_here_bare(plan, self._marks):
            return None
        if not plan.weights and here is None and not self._work.options.with_unweighed:
            if not plan.has_refused_weights:
                self.tally.leave_out(plan.mark)
            return None
        told = cut_of(plan)
        cut_at = here.cut_at if here is not None else None if told is None else self._clock.moment(told)
        if cut_at is None and "cut_on" in plan.refused_facts:
            return None
        if cut_at is None:
            plan.refuse("cut_on", f"of {plan.mark} is not said: day numbers count from the cut, so name its date too")
            return None
        if here is not None and not self._agrees(plan, here):
            return None
        if here is None and not self._is_complete(plan, cut_at):
            return None
        weights = [weighed(one, cut_at=cut_at, clock=self._clock) for one in plan.weights]
        one = self._settled(plan, here, cut_at, weights)
        one.weights = each_once(
            plan, weights, cut_at=cut_at, clock=self._clock, workshop_id=self._work.workshop.pk, findings=self._findings
        )
        _check_bars(one, known=len(self._known.bars_of(one.batch)))
        return one

    def _agrees(self, plan: BatchPlan, here: Batch) -> bool:
        """Return whether what the file says of a batch that is here is what the house knows; else it is refused."""
        told, zone = plan.facts.get("cut_on"), self._work.workshop.time_zone
        day = here.cut_at and local_day(here.cut_at, zone)
        if told is not None and local_day(self._clock.moment(told), zone) != day:
            plan.refuse("cut_on", f"is another day than the house knows: {here} was cut on {day}")
            return False
        formula = plan.facts.get("formula")
        if formula is not None and formula.casefold() != here.formula.name.casefold():
            plan.refuse("formula", f"is another one than the house knows: {here} is {here.formula.name}")
            return False
        return True

    def _is_complete(self, plan: BatchPlan, cut_at: datetime) -> bool:
        options, complete = self._work.options, True
        told = plan.facts.keys() | plan.refused_facts
        if "formula" not in told and not options.formula:
            plan.refuse("formula", f"of {plan.mark} is not said: name a column for it, or one formula for all")
            complete = False
        if "water_share" not in told and self._share is None:
            plan.refuse("water_share", f"of {plan.mark} is not said: name a column for it, or one share for all batches")
            complete = False
        complete = _has_lye_that_can_be(plan) and complete
        poured = plan.facts.get("poured_on")
        if cut_at > self._work.at:
            plan.refuse("cut_on", "lies in the future: leave the batch out until it is cut")
            complete = False
        if poured is not None and local_day(self._clock.moment(poured), self._clock.time_zone) > local_day(
            cut_at, self._clock.time_zone
        ):
            plan.refuse("poured_on", f"comes after the cut of {plan.mark}: check both")
            complete = False
        return complete

    def _settled(self, plan: BatchPlan, here: Batch | None, cut_at: datetime, weights: list[Weighed]) -> SettledBatch:
        poured = plan.facts.get("poured_on")
        poured_at = None if poured is None else min(self._clock.moment(poured), cut_at)
        last = max((one.moment for one in weights), default=cut_at)
        told = plan.facts.get("still_curing")
        still = self._work.options.still_curing if told is None else told
        is_over = not still if told is not None or still else last < self._work.at - self._over_after
        if here is not None:
            is_over = here.state != Batch.State.CURING
        known = self._known.bars_of(here)
        labels = {one.plan.bar.casefold(): one.plan.bar for one in weights}
        new = [label for key, label in sorted(labels.items()) if key not in known]
        return SettledBatch(
            plan=plan,
            batch=here,
            cut_at=cut_at,
            poured_at=poured_at,
            share=plan.facts.get("water_share") or self._share or Decimal(0),
            formula=plan.facts.get("formula") or self._work.options.formula,
            is_over=is_over,
            bars=plan.facts.get("bars_cut") or (0 if is_over else len(labels)),
            labels=new,
            position=self._place(plan, is_over=is_over),
        )

    def _place(self, plan: BatchPlan, *, is_over: bool) -> Position | None:
        name = plan.facts.get("place")
        if not name or is_over:
            return None
        found = self._places.get(name.casefold())
        if found is None:
            example = next(iter(self._places.values()), None)
            like = f", like “{example}”" if example is not None else ": put up a rack first"
            plan.refuse("place", f"is no place on your racks: write it as Racks does{like}")
        return found

    def _look_for_room(self, one: SettledBatch) -> None:
        """Refuse the place of a batch for whose bars no room is left on the racks."""
        if one.batch is not None or one.position is None:
            return
        if one.bars > self._bars_free:
            room = f"the racks have room for {self._bars_free} bars more"
            one.plan.refuse("place", f"cannot be had: {room}. Leave it out, or put up a rack first")
        self._bars_free -= min(one.bars, self._bars_free)


def _has_lye_that_can_be(plan: BatchPlan) -> bool:
    fats_g, lye_g, koh_g = (plan.facts.get(key) for key in ("fats", "lye", "koh"))
    if koh_g is not None and (lye_g is None or koh_g > lye_g):
        plan.refuse("koh", f"of {plan.mark} is more than all its lye: the column of lye holds both alkalis together")
        return False
    if fats_g is not None and lye_g is not None and lye_g >= fats_g:
        plan.refuse("lye", f"of {plan.mark} is not less than its fats: did the two columns change places?")
        return False
    return True


def _share_for_all(options: Options) -> Decimal | None:
    if not options.water_share:
        return None
    try:
        return Cells(options).share(options.water_share)
    except CellFault as fault:
        raise Invalid("water_share", f"The water share for all batches {fault}.", field="water_share") from fault


def _check_bars(one: SettledBatch, *, known: int) -> None:
    if known + len(one.labels) > MOST_SAMPLE_BARS:
        one.plan.refuse("bar", f"{one.plan.mark} has more than {MOST_SAMPLE_BARS} sample bars: check which column names them")
    if one.batch is None and not one.is_over and not one.bars:
        one.plan.refuse("bars_cut", f"of {one.plan.mark} is not said, and no bar of it was weighed: say how many bars it has")
    if one.batch is None and 0 < one.bars < len(one.labels):
        one.plan.refuse("bars_cut", f"is less than the {len(one.labels)} bars that were weighed of it")


def _leave_out(one: SettledBatch, earlier: Mapping[UUID, Decimal]) -> int:
    """Leave out the weights that are here, refuse those that are here as others, and return how many these were."""
    fresh = []
    for weight in one.weights:
        if weight.client_id in earlier:
            _hold_against(one, weight, earlier[weight.client_id])
        else:
            fresh.append(weight)
    known, one.weights = len(one.weights) - len(fresh), fresh
    return known


def _refuse_gone(one: SettledBatch, bars: Mapping[str, datetime | None]) -> None:
    """Refuse what was weighed of a bar after it was gone, or of a batch after it came in as closed."""
    batch = one.batch
    for weight in one.weights if batch is not None else ():
        plan, moment = weight.weighed.plan, weight.weighed.moment
        ended_at = bars.get(plan.bar.casefold())
        if one.is_over and moment >= batch.written_at:
            one.plan.table.refuse(plan.row, "batch", f"{batch} is closed here: nothing is weighed of it any more")
        elif ended_at is not None and moment >= ended_at:
            one.plan.table.refuse(plan.row, "bar", f"is not weighed any more: bar {plan.bar} of {batch} is gone")


def _hold_against(one: SettledBatch, weight: NewWeight, here_g: Decimal) -> None:
    plan = weight.weighed.plan
    if plan.weight_g != here_g:
        said = f"is another weight of bar {plan.bar} than the house has for that day ({here_g:f} g): correct it on its page"
        one.plan.table.refuse(plan.row, "weight", said)
