"""Lots that stand for a material they are not, such as lye that was dissolved beforehand for dry lye.

Of such lots a run takes all that it needs of the material, from one lot alone, or nothing: so it is weighed at the
table, one jug in place of the dry lye and never beside it. Who was there first chooses first, and of the lots that
hold enough on its day takes the one that expires first. What was chosen when a run was announced (``Run.keeps``) is
its own before anybody chooses, as long as it can serve. So neither one run more nor one less, nor one that is poured
before its turn, leaves another short that had enough.

Within netting such a lot is an item of its own, called by its key, in grams of that very lot.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from curehouse.core.stock.allocation import NOTHING
from curehouse.core.stock.storeroom import Lot, Run, StandIn


@dataclass(frozen=True, slots=True)
class Instead:
    """So many grams of a material that a run takes nothing of, for a lot stands for it."""

    material: str
    amount_g: float


@dataclass(frozen=True, slots=True)
class Chosen:
    """What a run takes instead: *amount_g* grams of one lot."""

    lot: str
    amount_g: float
    instead: Instead


@dataclass(frozen=True, slots=True)
class Settled:
    """Runs with what they take instead as their needs, and what it is; what is left of each lot for one more run.

    In the runs' needs a lot is called by its key, ``material_of`` is what it is of.
    """

    runs: tuple[Run, ...]
    chosen: Mapping[str, tuple[Chosen, ...]]
    _lots: tuple[tuple[StandIn, Lot], ...] = ()
    _left: Mapping[str, float] = field(default_factory=dict)

    def material_of(self, item: str) -> str:
        """Return the material that an item of a run is: of a lot that stands for another what it is of."""
        return next((lot.material for _one, lot in self._lots if lot.key == item), item)

    def instead(self, run: str, item: str) -> Instead | None:
        """Return what a lot stands for in a run that was settled; None of any other item."""
        return next((one.instead for one in self.chosen.get(run, ()) if one.lot == item), None)

    def items(self, run: Run) -> set[str]:
        """Return all that one more run may take, on whatever day."""
        return {*run.needs, *(one.lot for one, _lot in self._lots if run.needs.get(one.instead_of, 0.0) > NOTHING)}

    def chosen_on(self, run: Run, day: int) -> tuple[Chosen, ...]:
        """Return what one more run takes instead on a day, after all that were settled."""
        return _choose(run, day, self._lots, self._left) if self._lots else ()

    def needs_on(self, run: Run, day: int) -> Mapping[str, float]:
        """Return what one more run needs on a day, after all that were settled."""
        return _needs(run, self.chosen_on(run, day)) if self._lots else run.needs

    def by_material(self) -> tuple[Run, ...]:
        """Return the runs with lots that stand for another called by what they are of."""
        if not self._lots:
            return self.runs
        return tuple(
            replace(run, needs={self.material_of(item): grams for item, grams in run.needs.items()}) for run in self.runs
        )


def settle(stand_ins: Sequence[StandIn], lots: Iterable[Lot], runs: Sequence[Run]) -> Settled:
    """Return what each of *runs* takes instead: first what they keep, then what is left, by ``turn`` and then by day."""
    if not stand_ins:
        return Settled(tuple(runs), {})
    of_lot = {one.lot: one for one in stand_ins}
    here = [(of_lot[lot.key], lot) for lot in lots if lot.key in of_lot and lot.released]
    here.sort(key=lambda one: (one[1].last_day, one[1].received_day))
    left = {lot.key: lot.amount_g for _one, lot in here}
    chosen: dict[str, tuple[Chosen, ...]] = {}
    in_turn = sorted(runs, key=lambda run: (run.turn, run.day))
    for kept_only in (True, False):
        for run in in_turn:
            had = chosen.get(run.key, ())
            found = _choose(run, run.day, here, left, had=had, kept_only=kept_only)
            for one in found[len(had) :]:
                left[one.lot] -= one.amount_g
            if found:
                chosen[run.key] = found
    settled = tuple(replace(run, needs=_needs(run, chosen[run.key])) if run.key in chosen else run for run in runs)
    return Settled(settled, chosen, tuple(here), left)


def _choose(
    run: Run,
    day: int,
    lots: Sequence[tuple[StandIn, Lot]],
    left: Mapping[str, float],
    *,
    had: Sequence[Chosen] = (),
    kept_only: bool = False,
) -> tuple[Chosen, ...]:
    """Return what a run *had* already, and what it takes besides; of lots it keeps alone, if so."""
    found = {one.instead.material: one for one in had}
    for one, lot in lots:
        if kept_only and run.keeps.get(one.instead_of) != lot.key:
            continue
        needed_g = run.needs.get(one.instead_of, 0.0)
        amount_g = needed_g * one.per_gram
        is_for_it = needed_g > NOTHING and one.instead_of not in found
        has_room = amount_g * one.water_share <= run.water_g.get(one.instead_of, 0.0)
        if is_for_it and has_room and lot.received_day <= day <= lot.last_day and amount_g <= left[lot.key]:
            found[one.instead_of] = Chosen(lot.key, amount_g, Instead(one.instead_of, needed_g))
    return tuple(found.values())


def _needs(run: Run, chosen: Iterable[Chosen]) -> dict[str, float]:
    needs = dict(run.needs)
    for one in chosen:
        del needs[one.instead.material]
        needs[one.lot] = one.amount_g
    return needs
