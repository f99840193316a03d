"""A run held against the storeroom: what it takes, what is free beside the runs that are planned, and when it can be poured."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal

from curehouse.common.errors import Invalid
from curehouse.common.time import local_day
from curehouse.core.stock import storeroom as core
from curehouse.core.stock.allocation import NOTHING
from curehouse.core.stock.netting import Prospect, RunCheck, RunMaterial, check_run, net_runs
from curehouse.core.stock.storeroom import Outlook, Storeroom
from curehouse.flows.dissolved import Dissolved, dissolved_here
from curehouse.flows.reserved import reserved_runs, run_key
from curehouse.making.models import FormulaVersion, Reservation, Run, Unasked
from curehouse.making.services.run_needs import RunNeeds, run_needs
from curehouse.making.services.runs import clean_fats, clean_run_day
from curehouse.workshops.models import Workshop
from inventory.adapter import arrival_key, deliveries, lot_key, stock_lots
from inventory.blends import WITHOUT_END_G, Recipe, hang_together, is_unkept, materials_in, recipes_of
from inventory.models import Lot, Material, OrderLine
from inventory.queries.orders import Arrival

_NEW = "new"


@dataclass(frozen=True, slots=True)
class AskedRun:
    """What was asked of the core of netting, to be asked again of another day."""

    run: core.Run
    others: Sequence[core.Run]
    room: Storeroom
    today: date


@dataclass(frozen=True, slots=True)
class Held:
    """A run held against the storeroom.

    ``materials`` are those the storeroom was asked for, by the keys that the core gives back; ``lots`` and
    ``arrivals`` are what its takes are of. ``not_kept`` is what nobody can tell: things that are not kept
    in the storeroom, are counted in pieces, or of which no amount is known. Without a day are the
    ``dayless``: orders of these materials of which nobody knows when they come. ``waiting`` are lots in
    quarantine of what is short. ``dry_in`` are the grams of dry lye in a gram of each lot that stands for it.
    """

    found: RunCheck
    materials: Mapping[str, Material]
    needed_g: Mapping[str, Decimal]
    lots: Mapping[str, Lot]
    arrivals: Mapping[str, Arrival]
    not_kept: list[Unasked]
    dayless: list[Arrival]
    delivery: Mapping[str, core.DeliveryDays]
    waiting: Mapping[str, list[Lot]]
    dry_in: Mapping[str, Decimal]
    asked: AskedRun

    def prospects_from(self, day: date) -> tuple[Prospect, Prospect]:
        """Return the first days from *day* on, which is not past, on which it can be poured: likely and safely."""
        later = replace(self.asked.run, day=day.toordinal())
        found = check_run(later, self.asked.others, self.asked.room, self.asked.today.toordinal())
        return found.likely, found.safe

    @property
    def standing(self) -> str:
        """Return how the run stands; see :func:`standing`."""
        likely, safe = (not prospect.possible for prospect in (self.found.likely, self.found.safe))
        return standing(is_short=likely, is_perhaps_short=safe, not_kept=self.not_kept)


def standing(*, is_short: bool, is_perhaps_short: bool, not_kept: Iterable[Unasked]) -> str:
    """Return how a run stands: ``short``, ``not_told`` (no amount of something is told), ``perhaps_short`` or ``enough``."""
    if is_short:
        return "short"
    if any(one.amount_g is None for one in not_kept):
        return "not_told"
    return "perhaps_short" if is_perhaps_short else "enough"


def hold_run(*, version: FormulaVersion, fats_g: Decimal, pour_on: date, at: datetime) -> Held:
    """Hold a run that is not planned yet against lots, orders and the runs that are; ten queries however many those are."""
    day = clean_run_day(pour_on, today=local_day(at, version.workshop.time_zone))
    return hold_needs(version.workshop, run_needs(version, clean_fats(fats_g), at=at), day=day, at=at)


def hold_needs(workshop: Workshop, wanted: RunNeeds, *, day: date, at: datetime) -> Held:
    """Hold what a run takes, worked out already, against the storeroom on a day that is not past."""
    today = local_day(at, workshop.time_zone)
    kept = wanted.kept
    asked = (need.material.pk for need in wanted.needs if need.material is not None)
    read = {key: [one.lot for one in wanted.known.lots.get(key, ())] for key in asked}
    there = sharers_of(workshop, kept, at=at, recipes=wanted.recipes, read=read)
    here = there.here
    needs = {str(material.pk): float(grams) for material, grams in kept.items()}
    water_g = {str(material.pk): float(grams) for material, grams in wanted.water_g.items()}
    run = core.Run(_NEW, day.toordinal(), needs, water_g=water_g)
    try:
        found = check_run(run, there.runs, here.room, today.toordinal())
    except ValueError as error:
        # What the core refuses, rows of the house do not hold: said as it stands, for whoever finds one.
        raise Invalid("not_netted", f"The storeroom cannot be held against this run: {error}.") from error
    # Of what is not kept in the storeroom there is always enough.
    found = replace(found, materials=tuple(one for one in found.materials if not is_unkept(one.material)))
    takes, known = {one.material for one in found.materials}, {order.key for order in here.room.orders}
    return Held(
        found=found,
        materials=there.materials,
        needed_g={str(material.pk): grams for material, grams in kept.items()},
        lots={lot_key(lot): lot for lot in there.lots},
        arrivals={arrival_key(one): one for one in here.arrivals},
        not_kept=wanted.not_kept,
        dayless=[one for one in here.arrivals if str(one.line.material_id) in takes and arrival_key(one) not in known],
        delivery=here.room.delivery,
        waiting=waiting_of(workshop, [one.material for one in found.materials if one.likely.short_g or one.safe.short_g], day),
        dry_in=there.dissolved.shares,
        asked=AskedRun(run, there.runs, here.room, today),
    )


@dataclass(frozen=True, slots=True)
class Shares:
    """What runs that are planned get of the storeroom, by each outlook; keys as in :class:`Held`."""

    likely: tuple[RunMaterial, ...]
    safe: tuple[RunMaterial, ...]
    materials: Mapping[str, Material]
    lots: Mapping[str, Lot]
    arrivals: Mapping[str, Arrival]
    delivery: Mapping[str, core.DeliveryDays]
    waiting: Mapping[str, list[Lot]]

    def short_of(self, run: Run) -> list[tuple[Material, float, float]]:
        """Return what is short of a run, by the name of the material, with the grams that likely and that perhaps lack."""
        key = run_key(run)
        likely = {one.material: one.short_g for one in self.likely if one.run == key}
        safe = {one.material: one.short_g for one in self.safe if one.run == key}
        # What one outlook takes of a blend's own lots it does not take of the parts.
        both = {**dict.fromkeys(safe, 0.0), **likely}
        found = [(self.materials[material], short_g, safe.get(material, 0.0)) for material, short_g in both.items()]
        return sorted((one for one in found if one[1] or one[2]), key=lambda one: one[0].name)

    def standing(self, run: Run) -> str:
        """Return how a run that is planned stands; see :func:`standing`."""
        short = self.short_of(run)
        is_short = any(likely_g for _material, likely_g, _safe_g in short)
        return standing(is_short=is_short, is_perhaps_short=bool(short), not_kept=run.not_kept)


@dataclass(frozen=True, slots=True)
class Here:
    """The storeroom as the core takes it, and what of it is on its way, also what nobody knows the day of."""

    room: Storeroom
    arrivals: list[Arrival]


@dataclass(frozen=True, slots=True)
class Sharers:
    """The planned runs that share materials, and what of these is here and on its way."""

    workshop: Workshop
    today: date
    runs: list[core.Run]
    materials: dict[str, Material]
    lots: list[Lot]
    here: Here
    dissolved: Dissolved

    def net(self, runs: list[core.Run], outlook: Outlook) -> tuple[RunMaterial, ...]:
        found = net_runs(runs, self.here.room, self.today.toordinal(), outlook)
        return tuple(one for one in found if not is_unkept(one.material))

    def shares(self, runs: list[core.Run]) -> Shares:
        likely, safe = self.net(runs, Outlook.LIKELY), self.net(runs, Outlook.SAFE)
        short = [one.material for one in (*likely, *safe) if one.short_g]
        return Shares(
            likely=likely,
            safe=safe,
            materials=self.materials,
            lots={lot_key(lot): lot for lot in self.lots},
            arrivals={arrival_key(one): one for one in self.here.arrivals},
            delivery=self.here.room.delivery,
            waiting=waiting_of(self.workshop, short, self.today),
        )


def planned_sharers(workshop: Workshop, at: datetime, of: Run | None = None) -> Sharers:
    """Return what planned runs share, of one run's materials where one is said: six queries however many runs there are."""
    rows = Reservation.objects.within(workshop).standing()
    keys = (rows if of is None else rows.filter(run=of)).order_by().values("material")
    return sharers_of(workshop, Material.objects.within(workshop).filter(pk__in=keys), at=at)


def sharers_of(
    workshop: Workshop,
    materials: Iterable[Material],
    *,
    at: datetime,
    recipes: Mapping[int, Recipe] | None = None,
    read: Mapping[int, Sequence[Lot]] | None = None,
) -> Sharers:
    """Return all that is there and planned of *materials*, as every check of a run counts it; five queries, six with blends.

    With what is made from others belong its parts, and with parts what they are taken for. *read* are the lots that are
    usable today, of materials whose lots were read already.
    """
    today = local_day(at, workshop.time_zone)
    recipes = recipes_of(workshop) if recipes is None else recipes
    asked = {one.pk: one for one in materials}
    keys = hang_together(recipes, asked)
    # What hangs together with them stands in the recipes.
    known = {str(pk): one for pk, one in (materials_in(recipes) | asked).items() if pk in keys}
    lots = [lot for key in sorted(keys) for lot in (read or {}).get(key, ())]
    if unread := keys - (read or {}).keys():
        lots += Lot.objects.within(workshop).filter(material__in=unread).usable(on=today).first_expired_first().named()
    own = {key: one for key, one in recipes.items() if key in keys}
    dissolved = dissolved_here(workshop, own, lots)
    here = _storeroom(workshop, keys, lots, today, own, dissolved)
    others = [run for _row, run in reserved_runs(workshop, today, keys).values()]
    return Sharers(workshop, today, others, known, lots, here, dissolved)


def share_out(*, workshop: Workshop, at: datetime, of: Run | None = None) -> Shares:
    """Return what each planned run gets, who was announced first served first; of one run's materials where one is said.

    A run whose day is past and that is still planned counts as today's. Six queries however many runs there
    are, and one for what is short.
    """
    found = planned_sharers(workshop, at, of)
    return found.shares(found.runs)


@dataclass(frozen=True, slots=True)
class MovedRun:
    """A planned run as it would stand on another day, and the runs that would go shorter: of what, by how many grams."""

    shares: Shares
    worse: list[tuple[Run, Material, float]]


def hold_move(*, run: Run, pour_on: date, at: datetime) -> MovedRun:
    """Hold a planned run against the storeroom as on another day; what is reserved for it is not held against it."""
    workshop = run.workshop
    day = clean_run_day(pour_on, today=local_day(at, workshop.time_zone))
    found = planned_sharers(workshop, at, run)
    short = {(one.run, one.material): one.short_g for one in found.net(found.runs, Outlook.LIKELY)}
    moved = [replace(one, day=day.toordinal()) if one.key == run_key(run) else one for one in found.runs]
    then = found.shares(moved)
    others = {run_key(one): one for one in Run.objects.within(workshop).named().planned() if one.pk != run.pk}
    worse = [
        (others[one.run], then.materials[one.material], one.short_g - short.get((one.run, one.material), 0.0))
        for one in then.likely
        if one.run in others and one.short_g - short.get((one.run, one.material), 0.0) > NOTHING
    ]
    return MovedRun(then, worse)


def waiting_of(workshop: Workshop, short: Collection[str], day: date) -> dict[str, list[Lot]]:
    """Return the lots in quarantine of the materials with these keys."""
    found: dict[str, list[Lot]] = {}
    if short:
        lots = Lot.objects.within(workshop).filter(material__in={int(key) for key in short}).waiting(on=day)
        for lot in lots.named().first_expired_first():
            found.setdefault(str(lot.material_id), []).append(lot)
    return found


def _storeroom(
    workshop: Workshop,
    materials: set[int],
    lots: list[Lot],
    today: date,
    recipes: Mapping[int, Recipe],
    dissolved: Dissolved,
) -> Here:
    """Return the storeroom as the core takes it; *lots* are usable today, those that expired before they came among none."""
    arrivals = OrderLine.objects.within(workshop).filter(material__in=materials).arrivals(on=today)
    coming = deliveries(workshop=workshop, arrivals=arrivals, materials=materials)
    in_order = stock_lots(lot for lot in lots if lot.best_before is None or lot.best_before >= lot.received_on)
    # Lye that was dissolved counts by what is in its lots, of a mix the recipe says how the rest is made up.
    blends = {str(key): one.core_shares for key, one in recipes.items() if one.material.kind != Material.Kind.LYE}
    unkept = sorted({part for parts in blends.values() for part, _share in parts if is_unkept(part)})
    in_order += [core.Lot(key, key, WITHOUT_END_G, today.toordinal()) for key in unkept]
    here = {lot.key for lot in in_order}
    room = Storeroom(
        lots=in_order, orders=coming.orders, delivery=coming.days, blends=blends, blends_from_stock=bool(blends),
        stand_ins=[one for one in dissolved.stand_ins if one.lot in here],
    )  # fmt: skip
    return Here(room, arrivals)
