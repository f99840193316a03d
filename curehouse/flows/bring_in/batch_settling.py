"""What a cure log says, held against what the house knows: what is new, what is here, what cannot be."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal

from curehouse.common.errors import Invalid
from curehouse.common.time import local_day
from curehouse.curing.models import Position
from curehouse.flows.bring_in.batch_known import Known, known_to, weights_here
from curehouse.flows.bring_in.batch_moments import Clock, Weighed, cut_of, weighed
from curehouse.flows.bring_in.batch_plan import MOST_SAMPLE_BARS, BatchPlan
from curehouse.flows.bring_in.batch_weights import NewWeight, each_once
from curehouse.flows.bring_in.cells import CellFault, Cells
from curehouse.flows.bring_in.outcome import Findings
from curehouse.flows.bring_in.work import Work
from curehouse.making.models import Batch
from curehouse.workshops.models import Workshop


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


@dataclass(slots=True)
class Settled:
    """What a file would bring."""

    batches: list[SettledBatch] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)
    known: dict[str, int] = field(default_factory=lambda: {"batches": 0, "weighings": 0})

    @property
    def adds(self) -> dict[str, int]:
        """Return how much is new, by what it is."""
        new = [one for one in self.batches if one.batch is None]
        return {
            "batches": len(new),
            "batches that still cure": sum(not one.is_over for one in new),
            "sample bars": sum(len(one.labels) for one in self.batches),
            "weighings": sum(len(one.weights) for one in self.batches),
        }


class Settling:
    """Settles the batches of one file; looks the house up in a few queries for all of them."""

    def __init__(self, work: Work, findings: Findings, *, over_after: timedelta) -> None:
        self._work, self._findings, self._over_after = work, findings, over_after
        self._clock = Clock.of(work.workshop, work.at)
        self._share = self._share_for_all()
        self._known = Known()

    def _share_for_all(self) -> Decimal | None:
        options = self._work.options
        if not options.water_share:
            return None
        try:
            return Cells(options).share(options.water_share)
        except CellFault as fault:
            raise Invalid("water_share", f"The water share for all batches {fault}.", field="water_share") from fault

    def settle(self, plans: Sequence[BatchPlan]) -> Settled:
        """Settle every batch; what is refused is among the findings."""
        self._known = known_to(self._work.workshop, plans)
        settled = Settled()
        for done, plan in enumerate(plans):
            if done % 50 == 0:
                self._work.progress("checking", done, len(plans))
            one = self._settle(plan, settled)
            if one is not None:
                settled.batches.append(one)
        _leave_out_known(settled, self._work.workshop, self._known)
        _look_for_room(settled, self._known)
        _remark(settled, self._findings)
        settled.batches.sort(key=lambda one: one.cut_at)
        return settled

    def _settle(self, plan: BatchPlan, settled: Settled) -> SettledBatch | None:
        here = self._known.batches.get(plan.mark.casefold())
        if not plan.weights and here is None and not self._work.options.with_unweighed:
            if not plan.has_refused_weights:
                settled.left_out.append(plan.mark)
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
        self._check_bars(one)
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
        found = self._known.places.get(name.casefold())
        if found is None:
            example = next(iter(self._known.places.values()), None)
            like = f", like “{example}”" if example is not None else ": put up a rack first"
            plan.refuse("place", f"is no place on your racks: write it as Racks does{like}")
        return found

    def _check_bars(self, one: SettledBatch) -> None:
        known = len(self._known.bars_of(one.batch))
        if known + len(one.labels) > MOST_SAMPLE_BARS:
            one.plan.refuse(
                "bar", f"{one.plan.mark} has more than {MOST_SAMPLE_BARS} sample bars: check which column names them"
            )
        if one.batch is None and not one.is_over and not one.bars:
            one.plan.refuse(
                "bars_cut", f"of {one.plan.mark} is not said, and no bar of it was weighed: say how many bars it has"
            )
        if one.batch is None and 0 < one.bars < len(one.labels):
            one.plan.refuse("bars_cut", f"is less than the {len(one.labels)} bars that were weighed of it")


def _look_for_room(settled: Settled, known: Known) -> None:
    """Refuse the places of batches for whose bars no room is left on the racks."""
    room = sum(position.bars_free for position in known.places.values())
    for one in settled.batches:
        if one.batch is not None or one.position is None:
            continue
        if one.bars > room:
            said = f"cannot be had: the racks have room for {room} bars more. Leave it out, or put up a rack first"
            one.plan.refuse("place", said)
        room -= min(one.bars, room)


def _remark(settled: Settled, findings: Findings) -> None:
    """Say what was taken for granted, and what is not taken over."""
    by_weighing = sum(one.batch is None and "cut_on" not in one.plan.facts for one in settled.batches)
    if by_weighing:
        said = f"Of {by_weighing} batches no cut date is said: the day of the first weighing counts as the cut."
        findings.remark(said)
    for one in settled.batches:
        if one.batch is not None and one.is_over and one.plan.facts.get("still_curing"):
            findings.remark(f"{one.batch} is closed here; that it still cures is not taken over.")


def _leave_out_known(settled: Settled, workshop: Workshop, known: Known) -> None:
    """Leave out what is here already; another weight under the same bar and day is refused."""
    ids = [weight.client_id for one in settled.batches if one.batch is not None for weight in one.weights]
    earlier = weights_here(workshop, ids)
    for one in settled.batches:
        if one.batch is None:
            continue
        settled.known["batches"] += 1
        fresh = []
        for weight in one.weights:
            if weight.client_id not in earlier:
                fresh.append(weight)
                continue
            settled.known["weighings"] += 1
            _hold_against(one, weight, earlier[weight.client_id])
        one.weights = fresh
        _refuse_gone(one, one.batch, known.bars_of(one.batch))


def _refuse_gone(one: SettledBatch, batch: Batch, bars: Mapping[str, datetime | None]) -> None:
    """Refuse what was weighed of a bar after it was gone, or of a batch after it came in as closed."""
    for weight in one.weights:
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
