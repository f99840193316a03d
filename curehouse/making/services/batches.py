"""The only writer of formulas and batches."""

import logging
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import ROUND_HALF_EVEN, Decimal

from django.db import transaction

from curehouse.common.errors import Conflict, Invalid
from curehouse.common.locking import lock_rows
from curehouse.common.units import LARGEST_G, SMALLEST_G
from curehouse.core.chemistry.bounds import Bounds
from curehouse.core.chemistry.liquids import Composition, Liquid, Place
from curehouse.core.chemistry.mass_balance import water_share
from curehouse.making.formulas.names import is_called_lye
from curehouse.making.formulas.superfats import superfat_values
from curehouse.making.leaving import obstacles_now
from curehouse.making.liquids import liquid_kinds
from curehouse.making.lye import is_kept_as_confirmed
from curehouse.making.models import Batch, BatchLiquid, Formula, FormulaVersion, SafetyCheck, TakeOut
from curehouse.making.services.pours import Held, formula_to_pour, held_to_version
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Workshop
from curehouse.workshops.services import clean_name, next_batch_number

logger = logging.getLogger(__name__)

MOST_BARS = 5000
# What to do where a safety check does not say what was done or found.
METHOD_REMEDY, VALUE_REMEDY = "type what you tested with", "type what you read"
LONGEST_NOTE = 4000
# Above this the liquids outweigh everything else: a slip of the finger, not a soap.
_LARGEST_WATER_SHARE = Decimal("0.6")
_SHARE_STEP = Decimal("0.0001")
_LONGEST_AGO = timedelta(days=20 * 365)


@dataclass(frozen=True, slots=True)
class LiquidEntry:
    """A liquid as entered: grams of a kind; a water fraction of one's own beats the table's.

    ``kind`` is a row of the list, or, with a water fraction, the name of a liquid that is in none.
    """

    kind: str
    mass_g: Decimal
    water_fraction: Decimal | None = None
    place: str = BatchLiquid.Place.FRONT

    def resolved_fraction(self) -> Decimal:
        """Return the water fraction to count with, or say what is wrong with the entry."""
        kinds = liquid_kinds()
        name = kinds[self.kind].name if self.kind in kinds else self.kind
        if self.kind not in kinds and (self.water_fraction is None or not 1 <= len(name) <= 40 or not name.isprintable()):
            said = "This liquid is not in the list: choose one, or name it in up to 40 characters and type its water part."
            raise Invalid("liquid", said, field="liquids", kind=self.kind)
        if is_called_lye(name):
            said = (
                f"{name} is lye, and lye has its own field: take it out of the liquids, or it counts as water and not as lye."
            )
            raise Invalid("lye_line", said, field="liquids", kind=self.kind)
        if not SMALLEST_G <= self.mass_g <= LARGEST_G:
            raise Invalid("mass", f"{name}: the grams must be more than 0 and at most a tonne.", field="liquids")
        if self.place not in BatchLiquid.Place.values:
            raise Invalid("place", f"{name}: it goes in front or at trace.", field="liquids")
        fraction = kinds[self.kind].water_fraction if self.water_fraction is None else self.water_fraction
        if not 0 <= fraction <= 1:
            raise Invalid("fraction", f"{name}: the water part lies between 0 and 100 %.", field="liquids")
        return fraction.quantize(_SHARE_STEP)


@dataclass(frozen=True, slots=True)
class BatchEntry:
    """A batch as the maker enters it; ``water_share_stated`` (0-1) beats the computed share.

    ``koh_g`` is how much of ``lye_g`` is potassium hydroxide, None where nobody said.
    ``lye_confirmed`` keeps an amount of lye that is out of the usual, or too much by ``version``,
    the version of the formula it was poured from; without one only its name is known.
    """

    formula_name: str
    poured_at: datetime
    cut_at: datetime | None
    bars: int
    fats_g: Decimal
    lye_g: Decimal
    liquids: Sequence[LiquidEntry]
    water_share_stated: Decimal | None = None
    note: str = ""
    lye_confirmed: bool = False
    version: FormulaVersion | None = None
    koh_g: Decimal | None = None

    def alkalis(self) -> Decimal | None:
        """Return how much of the lye is potassium hydroxide: as said, or all or nothing as the formula has it."""
        if self.koh_g is not None or self.version is None:
            return self.koh_g
        return {Decimal(1): Decimal(0), Decimal(0): self.lye_g}.get(self.version.naoh_share)


def _liquid(entry: LiquidEntry) -> Liquid:
    """Return the liquid as the core takes it: of its making only the water counts here."""
    made_of = Composition(water=Bounds.exactly(float(entry.resolved_fraction())))
    return Liquid(entry.kind, float(entry.mass_g), Place(entry.place), made_of=made_of)


def computed_water_share(entry: BatchEntry) -> Decimal:
    """Return the water share of the fresh bar from what went in, to four places."""
    liquids = [_liquid(one) for one in entry.liquids]
    share = water_share(fats_g=float(entry.fats_g), lye_g=float(entry.lye_g), liquids=liquids)
    return Decimal(str(share)).quantize(_SHARE_STEP, rounding=ROUND_HALF_EVEN)


def _check_masses(entry: BatchEntry) -> Decimal:
    for what, mass_g, field in (("fats", entry.fats_g, "fats_g"), ("lye", entry.lye_g, "lye_g")):
        if not SMALLEST_G <= mass_g <= LARGEST_G:
            raise Invalid("mass", f"The {what} must weigh more than 0 g and at most a tonne.", field=field)
    if entry.koh_g is not None and not 0 <= entry.koh_g <= entry.lye_g:
        raise Invalid(
            "koh", "The potassium hydroxide is a part of the lye: between 0 g and all of it. Check both weights.", field="koh_g"
        )
    stated = entry.water_share_stated
    if stated is not None and not _SHARE_STEP <= stated <= _LARGEST_WATER_SHARE:
        raise Invalid("water_share", "The water share lies between 0 and 60 % of the fresh bar.", field="water_share_stated")
    if not entry.liquids and stated is None:
        raise Invalid(
            "no_liquid", "Name at least one liquid with its grams, or state the water share yourself.", field="liquids"
        )
    share = computed_water_share(entry)
    if share > _LARGEST_WATER_SHARE:
        raise Invalid(
            "water_share", f"The liquids bring {share:.0%} water: check their grams against the fats.", field="liquids"
        )
    return share


def why_not_written(entry: BatchEntry) -> str:
    """Return why no batch can be written with such masses, nothing where one can."""
    try:
        _check_masses(entry)
    except Invalid as error:
        return error.message
    return "" if entry.lye_g < entry.fats_g else "More lye than fats: it is no soap."


def _check_times(poured_at: datetime, cut_at: datetime | None, *, at: datetime) -> None:
    if poured_at < at - _LONGEST_AGO:
        raise Invalid("long_ago", "The pour lies more than twenty years back: check its year.", field="poured_at")
    if poured_at > at:
        raise Invalid("future", "The pour lies in the future: enter a batch once it is poured.", field="poured_at")
    if cut_at is None:
        return
    if cut_at > at:
        raise Invalid("future", "The cut lies in the future: leave it empty until the bars are cut.", field="cut_at")
    if cut_at < poured_at:
        raise Invalid("cut_before_pour", "The cut comes before the pour: check both times.", field="cut_at")


def _check_bars(bars: int) -> None:
    if not 1 <= bars <= MOST_BARS:
        raise Invalid("bars", f"The number of bars lies between 1 and {MOST_BARS}.", field="bars")


def formula_called(*, workshop: Workshop, name: str) -> Formula:
    """Return the workshop's formula of this name, writing it if it is new."""
    clean = clean_name(name, field="formula_name", what="The formula's name")
    known = Formula.objects.within(workshop).filter(name__iexact=clean).first()
    if known is not None:
        return known
    return Formula.unscoped.get_or_create(workshop=workshop, name=clean)[0]


def _held_to_formula(workshop: Workshop, entry: BatchEntry, *, at: datetime) -> tuple[Formula, Held]:
    """Return the formula, and how the pour lies by it."""
    if entry.version is not None:
        formula = formula_to_pour(workshop=workshop, version=entry.version)
        return formula, held_to_version(
            workshop=workshop,
            version=entry.version,
            fats_g=entry.fats_g,
            lye_g=entry.lye_g,
            koh_g=entry.alkalis(),
            is_confirmed=entry.lye_confirmed,
            poured_at=entry.poured_at,
            at=at,
        )
    is_confirmed = is_kept_as_confirmed(
        fats_g=entry.fats_g,
        lye_g=entry.lye_g,
        koh_g=entry.koh_g or Decimal(0),
        liquids_g=[one.mass_g for one in entry.liquids],
        unit=workshop.unit,
        is_confirmed=entry.lye_confirmed,
    )
    formula = formula_called(workshop=workshop, name=entry.formula_name)
    newest = FormulaVersion.objects.within(workshop).filter(formula=formula).newest_first().first()
    # Whatever a person had to read and confirm of a formula makes the check a condition of each of its batches.
    return formula, Held(is_confirmed, needs_check=newest is not None and bool(newest.confirmed))


@transaction.atomic
def write_batch(*, actor: Actor, entry: BatchEntry, at: datetime) -> Batch:
    """Write a batch that was poured, and cut if it was; compute its water share."""
    _check_times(entry.poured_at, entry.cut_at, at=at)
    if entry.cut_at is not None:
        _check_bars(entry.bars)
    share = _check_masses(entry)
    note = entry.note.strip()
    if len(note) > LONGEST_NOTE:
        raise Invalid("too_long", f"The note has {len(note)} characters: keep it to {LONGEST_NOTE}.", field="note")
    formula, held = _held_to_formula(actor.workshop, entry, at=at)
    cut = entry.cut_at is not None
    batch = Batch.unscoped.create(
        workshop=actor.workshop,
        formula=formula,
        version=entry.version,
        number=next_batch_number(workshop=actor.workshop),
        state=Batch.State.CURING if cut else Batch.State.POURED,
        poured_at=entry.poured_at,
        cut_at=entry.cut_at,
        bars_cut=entry.bars if cut else 0,
        bars_left=entry.bars if cut else 0,
        fats_g=entry.fats_g,
        lye_g=entry.lye_g,
        koh_g=entry.alkalis(),
        lye_confirmed=held.lye_confirmed,
        needs_check=held.needs_check,
        check_by_formula=held.needs_check,
        **({} if held.pour is None else {"reckoned": held.pour.as_plain(), **superfat_values(held.pour.superfat())}),
        water_share_computed=share,
        water_share_stated=entry.water_share_stated,
        note=note,
        written_at=at,
        **actor.signature,
    )
    BatchLiquid.unscoped.bulk_create(
        BatchLiquid(
            workshop=actor.workshop,
            batch=batch,
            kind=one.kind,
            mass_g=one.mass_g,
            water_fraction=one.resolved_fraction(),
            place=one.place,
        )
        for one in entry.liquids
    )
    logger.info("batch written: workshop=%s batch=%s", actor.workshop.pk, batch.pk)
    return batch


def lock_batch(batch: Batch) -> Batch:
    """Return *batch* fresh and locked until the transaction ends."""
    return lock_rows(Batch.unscoped.select_related("formula"), [batch.pk])[batch.pk]


def lock_batches(workshop: Workshop, keys: Iterable[int]) -> list[Batch]:
    """Return batches of *workshop* fresh and locked until the transaction ends, in key order."""
    return list(lock_rows(Batch.objects.within(workshop).select_related("formula"), keys).values())


@transaction.atomic
def cut_batch(*, batch: Batch, cut_at: datetime, bars: int, at: datetime) -> Batch:
    """Record that a poured batch was cut into so many bars."""
    row = lock_batch(batch)
    if row.state != Batch.State.POURED:
        raise Conflict("cut_already", f"{row} was cut already.", field="cut_at")
    _check_times(row.poured_at, cut_at, at=at)
    _check_bars(bars)
    row.state, row.cut_at, row.bars_cut, row.bars_left = Batch.State.CURING, cut_at, bars, bars
    row.save(update_fields=["state", "cut_at", "bars_cut", "bars_left"])
    return row


@transaction.atomic
def record_check(
    *, actor: Actor, batch: Batch, method: str, value: str, passed: bool, note: str, checked_at: datetime, at: datetime
) -> SafetyCheck:
    """Record a person's pass or fail by the workshop's own written limit.

    The house ships no limit: without one written down nothing passes. A fail is kept all the same,
    so that the bars stay where they are. A device tells of a fail; a pass is a person's judgement.
    """
    if passed:
        actor.must_be_a_person("pass a safety check", instead="A fail is kept from a device too.")
    limit = actor.workshop.check_limit
    if passed and not limit:
        raise Conflict(
            "no_limit",
            "Write down your own limit first (workshop, safety check): a batch passes by it. A fail is kept without one.",
            field="passed",
        )
    if len(" ".join(note.split())) > 400:
        raise Invalid("too_long", "Keep the note to 400 characters.", field="note")
    if checked_at > at:
        raise Invalid("future", "The check lies in the future: enter it once it is made.", field="checked_at")
    if batch.cut_at is None or checked_at < batch.cut_at:
        raise Invalid("before_cut", "A check is made on a cut bar: its time must not come before the cut.", field="checked_at")
    return SafetyCheck.unscoped.create(
        workshop=actor.workshop,
        batch=batch,
        at=checked_at,
        method=clean_name(method, field="method", what="The method", remedy=METHOD_REMEDY),
        value=clean_name(value, field="value", what="The value found", longest=60, remedy=VALUE_REMEDY),
        limit=limit,
        passed=passed,
        note=" ".join(note.split()),
        written_at=at,
        **actor.signature,
    )


def last_check_passed(batch: Batch, *, up_to: datetime | None = None) -> bool | None:
    """Return the outcome of the newest safety check, or None where none was made."""
    checks = SafetyCheck.objects.within(batch.workshop).filter(batch=batch)
    if up_to is not None:
        checks = checks.filter(at__lte=up_to)
    newest = checks.newest_first().first()
    return None if newest is None else newest.passed


@dataclass(frozen=True, slots=True)
class TakeOutEntry:
    """Bars to be taken out: how many, what for, when, and why though not ready."""

    bars: int
    purpose: str
    taken_at: datetime
    forced_reason: str = ""


def _check_may_leave(batch: Batch, entry: TakeOutEntry) -> None:
    """Refuse bars to everybody while a check failed, one that is a condition is missing, or a hold stands."""
    if entry.purpose == TakeOut.Purpose.DESTROYED:
        return
    for obstacle in obstacles_now(batch):
        raise Conflict(obstacle.code, obstacle.says, field="purpose")


@transaction.atomic
def take_out(*, actor: Actor, batch: Batch, entry: TakeOutEntry, cure_state: str, at: datetime) -> TakeOut:
    """Take bars of *batch* (locked by the caller) out of the house; the last one closes it.

    Not ready: only with a reason. Last check failed, or held: only to destroy or rework.
    """
    if batch.state != Batch.State.CURING:
        raise Conflict("not_curing", f"{batch} has no bars on the racks.", field="bars")
    if not 1 <= entry.bars <= batch.bars_left:
        raise Invalid("bars", f"{batch} has {batch.bars_left} bars left: take 1 to {batch.bars_left}.", field="bars")
    if entry.purpose not in TakeOut.Purpose.values:
        raise Invalid("purpose", "Say what the bars are for: choose from the list.", field="purpose")
    if entry.taken_at > at or (batch.cut_at and entry.taken_at < batch.cut_at):
        raise Invalid("moment", "The time must lie between the cut and now.", field="taken_at")
    _check_may_leave(batch, entry)
    reason = " ".join(entry.forced_reason.split())
    if len(reason) > 400:
        raise Invalid("too_long", "Keep the reason to 400 characters.", field="forced_reason")
    if cure_state != "ready" and not reason:
        raise Conflict("not_ready", f"{batch} is not ready: say why its bars leave now.", field="forced_reason")
    row = TakeOut.unscoped.create(
        workshop=actor.workshop,
        batch=batch,
        at=entry.taken_at,
        bars=entry.bars,
        purpose=entry.purpose,
        state_then=cure_state,
        forced_reason="" if cure_state == "ready" else reason,
        written_at=at,
        **actor.signature,
    )
    batch.bars_left -= entry.bars
    if batch.bars_left == 0:
        batch.state = Batch.State.CLOSED
    batch.save(update_fields=["bars_left", "state"])
    logger.info(
        "bars taken out: workshop=%s batch=%s bars=%s purpose=%s", actor.workshop.pk, batch.pk, entry.bars, entry.purpose
    )
    return row
