"""What will be left of a lot on its best-before, and what could use it: a planned run that is moved, or another batch."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from math import ceil

from curehouse.common.time import day_words
from curehouse.common.units import show_at_most
from curehouse.core.stock.allocation import NOTHING
from curehouse.core.stock.storeroom import Outlook
from curehouse.core.stock.storeroom import Run as PlannedRun
from curehouse.flows.check_run import Sharers, planned_sharers, run_key, sharers_of
from curehouse.flows.stock_ahead import look_at
from curehouse.making.models import BatchUse, FormulaVersion, Run
from curehouse.workshops.models import Workshop
from inventory.adapter import lot_key
from inventory.models import Lot, Material
from inventory.services.entries import show_amount

# Of each material so many runs are tried on another day, the next first; more would be read by nobody.
_MOST_TRIED = 4
_MOST_SAID = 2
# What is told of early, and in other words: a fifth of a lot that nobody will have used (our own choice, no source).
GOOD_PART = 0.2
# Batches of so long ago say what a formula takes; older ones may be of another time.
_KNOWN = timedelta(days=730)


@dataclass(frozen=True, slots=True)
class Mover:
    """A planned run that could take of it if it were poured by then: how much at most, in grams."""

    run: Run
    amount: float


@dataclass(frozen=True, slots=True)
class Batches:
    """So many batches of so many grams of oils by a version that was poured before use it up."""

    version: FormulaVersion
    batches: int
    fats_g: float


@dataclass(frozen=True, slots=True)
class LeftOver:
    """What is likely left of a lot on its best-before, in grams or pieces; *share* of what is there now."""

    amount: float
    share: float
    movers: tuple[Mover, ...] = ()
    batches: Batches | None = None


def left_over(*, workshop: Workshop, lots: Collection[Lot], at: datetime) -> dict[int, LeftOver]:
    """Return what will be left of *lots* by planned runs and usual use, by their keys; as the page of the material says.

    Nothing is told of a lot that is not usable, nor where no use is known and no run planned, so that anything may
    happen. As many queries however many lots there are.
    """
    there = sharers_of(workshop, {lot.material_id: lot.material for lot in lots}.values(), at=at)
    usable = {lot.pk for lot in there.lots}
    looked = look_at(there, at=at)
    known = {material for material, one in looked.items() if one.use is not None or one.found.likely.runs}
    left = {one.supply: one.amount for found in looked.values() for one in found.found.likely.expires}
    amounts = {lot.pk: left.get(lot_key(lot), 0.0) for lot in lots if lot.pk in usable and lot.material_id in known}
    return {lot.pk: LeftOver(amounts[lot.pk], amounts[lot.pk] / float(lot.on_hand)) for lot in lots if lot.pk in amounts}


def with_uses(found: Mapping[int, LeftOver], *, workshop: Workshop, lots: Iterable[Lot], at: datetime) -> dict[int, LeftOver]:
    """Return it with what could use it; as many queries however many lots there are."""
    asked = [lot for lot in lots if lot.pk in found and found[lot.pk].amount > NOTHING and lot.best_before is not None]
    if not asked:
        return dict(found)
    movers = _movers(workshop, asked, found, at=at)
    rates = _rates(workshop, {lot.material_id for lot in asked}, since=at - _KNOWN)
    more = {
        lot.pk: replace(
            found[lot.pk],
            movers=tuple(movers.get(lot.pk, ())),
            batches=_batches(rates.get(lot.material_id, ()), found[lot.pk].amount),
        )
        for lot in asked
    }
    return {**found, **more}


def _movers(workshop: Workshop, lots: Iterable[Lot], found: Mapping[int, LeftOver], *, at: datetime) -> dict[int, list[Mover]]:
    """Return the runs behind a best-before that could be poured on it: with all they take, and no other run shorter."""
    there = planned_sharers(workshop, at)
    runs = {run_key(run): run for run in Run.objects.within(workshop).named().planned()}
    before = _short(there, there.runs)
    movers: dict[int, list[Mover]] = {}
    for lot in lots:
        key, day = str(lot.material_id), _ordinal(lot)
        later = [one for one in there.runs if one.day > day and one.needs.get(key, 0.0) > NOTHING and one.key in runs]
        for one in sorted(later, key=lambda one: one.day)[:_MOST_TRIED]:
            moved = [replace(other, day=day) if other.key == one.key else other for other in there.runs]
            after = _short(there, moved)
            is_whole = not any(short for (run, _material), short in after.items() if run == one.key)
            if is_whole and all(short <= before.get(which, 0.0) + NOTHING for which, short in after.items()):
                movers.setdefault(lot.pk, []).append(Mover(runs[one.key], min(one.needs[key], found[lot.pk].amount)))
    return movers


def _ordinal(lot: Lot) -> int:
    day: date = lot.best_before
    return day.toordinal()


def _short(there: Sharers, runs: Sequence[PlannedRun]) -> dict[tuple[str, str], float]:
    return {(one.run, one.material): one.short_g for one in there.net(list(runs), Outlook.LIKELY)}


@dataclass(frozen=True, slots=True)
class _Rate:
    """How much of a material a version took for each gram of oils, and of how many grams its largest batch was."""

    version: FormulaVersion
    rate: float
    largest_g: float


def _rates(workshop: Workshop, materials: Collection[int], *, since: datetime) -> dict[int, list[_Rate]]:
    """Return what versions of formulas in use took of each material in the batch that was poured last by each."""
    uses = BatchUse.objects.within(workshop).in_force().filter(movement__lot__material__in=materials)
    uses = uses.filter(batch__version__isnull=False, batch__fats_g__gt=0, batch__version__formula__retired_at__isnull=True)
    uses = uses.filter(batch__poured_at__gte=since)
    took: dict[tuple[int, int], Decimal] = {}
    batches = {}
    for use in uses.select_related("batch__version__formula", "movement__lot").order_by("batch__poured_at", "pk"):
        batches[use.batch_id] = use.batch
        key = (use.movement.lot.material_id, use.batch_id)
        took[key] = took.get(key, Decimal(0)) - use.movement.amount
    rates: dict[int, dict[int, _Rate]] = {}
    for (material, batch_key), amount in took.items():
        batch, of_material = batches[batch_key], rates.setdefault(material, {})
        known = of_material.get(batch.version.formula_id)
        largest = max(float(batch.fats_g), 0.0 if known is None else known.largest_g)
        of_material[batch.version.formula_id] = _Rate(batch.version, float(amount / batch.fats_g), largest)
    return {material: list(ones.values()) for material, ones in rates.items()}


def _batches(rates: Iterable[_Rate], amount: float) -> Batches | None:
    """Return what uses *amount* up with the fewest batches, none larger than one that was poured already."""
    found = [
        Batches(one.version, many, amount / one.rate / many)
        for one in rates
        if one.rate > 0 and (many := ceil(amount / (one.rate * one.largest_g) - 1e-9)) > 0
    ]
    return min(found, key=lambda one: (one.batches, one.fats_g), default=None)


def left_over_words(lot: Lot, left: LeftOver, *, unit: str, today: date) -> list[str]:
    """Return in sentences what could use what is left of a lot on its best-before, or that hardly anything will be."""
    material, then = lot.material, day_words(lot.best_before, today=today)
    about = _about(left.amount, material, unit)
    if left.amount <= NOTHING:
        return ["By planned runs and usual use it will be used up by then."]
    if left.share < GOOD_PART:
        return [f"By planned runs and usual use all but about {about} of it will be used by then."]
    said = []
    for one in left.movers[:_MOST_SAID]:
        day = day_words(one.run.pour_on, today=today)
        taken = _about(one.amount, material, unit)
        said.append(f"{one.run.formula.name}, planned for {day}, could take {taken} of it if it is poured by {then} instead.")
    if left.batches is not None:
        named = f"{left.batches.version.formula.name} (version {left.batches.version.number})"
        oils = show_at_most(_to_three_figures(left.batches.fats_g), unit)
        many = left.batches.batches
        how = f"A batch of {named} with {oils} of oils" if many == 1 else f"{many} batches of {named} with {oils} of oils each"
        said.append(f"{how}, poured by then, would use it up.")
    return said


def unused_words(lot: Lot, left: LeftOver | None, *, unit: str) -> str:
    """Return in half a sentence how much of a lot will likely not be used in time, where that is a good part."""
    if left is None or left.share < GOOD_PART:
        return ""
    about = _about(left.amount, lot.material, unit)
    return f": by planned runs and usual use about {about} ({_percent(left.share)}) unused by then"


def _percent(share: float) -> str:
    return f"{100 * share:.0f}\u00a0%"


def _about(amount: float, material: Material, unit: str) -> str:
    is_counted = material.measure == Material.Measure.PIECES
    return show_amount(Decimal(round(amount)) if is_counted else _to_three_figures(amount), material, unit)


def _to_three_figures(grams: float) -> Decimal:
    exact = Decimal(str(round(grams, 3)))
    return exact.quantize(Decimal(1).scaleb(max(exact.adjusted() - 2, -3))) if exact else exact
