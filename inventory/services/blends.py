"""The only writer of how materials are made from others, and of what was made."""

import logging
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from math import inf

from django.db import transaction

from curehouse.common.errors import Conflict, DomainError, Invalid, NotHere
from curehouse.common.locking import lock_alone, lock_rows
from curehouse.common.time import local_day
from curehouse.common.units import LARGEST_G, SMALLEST_G
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Workshop
from curehouse.workshops.services import clean_name
from inventory.blends import MIXED_KINDS, Recipe, holds_lye, may_be_made, parts_down, recipe_of, recipes_of
from inventory.models import Blend, BlendPart, Lot, Making, MakingTake, Material
from inventory.services.brought import lock_for_lots
from inventory.services.entries import clean_amount, clean_note, show_amount
from inventory.services.lots import ReceiptEntry, receive
from inventory.services.movements import PAGE, use
from inventory.services.posting import lock_lots

logger = logging.getLogger(__name__)

MOST_PARTS = 20
MOST_TAKES = 40
MOST_KEEPS_DAYS = 3650
_YIELD_STEP = Decimal("0.0001")
# So much over what water is counted on to hold is what steams off as it is made, and less than tables differ by.
_OVER = 1.05
TOO_STRONG = "more lye than so much water is counted on to hold: what did not dissolve lies at the bottom"
# A strength further from that of the recipe is asked about: likelier a slip of the pen than a making (our own choice).
_OFF_RECIPE = Decimal("0.02")


@dataclass(frozen=True, slots=True)
class PartEntry:
    """One part of a recipe by mass; without a material it is not kept in the storeroom, such as water."""

    parts: Decimal
    material: Material | None = None
    name: str = ""


@dataclass(frozen=True, slots=True)
class BlendEntry:
    """A recipe as entered; without parts the material is not made any more. *yielded*: of a gram of parts, 0-1."""

    parts: Sequence[PartEntry] = ()
    yielded: Decimal = Decimal(1)
    keeps_days: int | None = None
    note: str = ""


@transaction.atomic
def write_blend(*, actor: Actor, material: Material, entry: BlendEntry, at: datetime) -> Blend:
    """Write how a material is made from others; what stood so far stays on record with the lots made by it."""
    workshop = actor.workshop
    lock_alone(f"blends of workshop {workshop.pk}")
    keys = {material.pk, *(part.material.pk for part in entry.parts if part.material is not None)}
    rows = lock_rows(Material.objects.within(workshop), keys)
    if len(rows) != len(keys):
        raise NotHere("not_here", "There is no such material in this workshop.", field="material")
    row = rows[material.pk]
    if entry.parts:
        check_can_be_made(row)
    parts = [_clean_part(number, part, row, rows) for number, part in enumerate(entry.parts)]
    _check_parts(row, parts, recipes_of(workshop))
    before = Blend.objects.within(workshop).filter(material=row).order_by("-number").first()
    is_ended = not parts and before is not None
    if not is_ended and not any(part["material"] for part in parts):
        raise Invalid("no_parts", "Say what it is made from: name at least one part of the storeroom.", field="parts")
    blend = Blend.unscoped.create(
        workshop=workshop, material=row, number=1 if before is None else before.number + 1,
        yielded=_clean_yield(entry.yielded), keeps_days=_clean_keeps(entry.keeps_days), note=clean_note(entry.note), at=at,
        **actor.signature,
    )  # fmt: skip
    BlendPart.unscoped.bulk_create(
        BlendPart(workshop=workshop, blend=blend, place=place, **part) for place, part in enumerate(parts)
    )
    logger.info("blend written: workshop=%s material=%s blend=%s", workshop.pk, row.pk, blend.pk)
    return blend


def check_can_be_made(row: Material) -> None:
    """Refuse what is not made by a recipe: of another kind, retired, not kept in grams."""
    if row.retired_at is not None:
        raise Conflict("retired", f"{row} is retired: put it into use again first.", field="material")
    _check_kind(row)
    if row.measure != Material.Measure.GRAMS:
        raise Conflict(
            "not_in_grams", f"{row} is not kept in grams: only what is weighed is made by a recipe.", field="material"
        )


def _check_kind(row: Material) -> None:
    if may_be_made(row):
        return
    said = (
        f"{row} is of the kind {row.get_kind_display()}: only additives, fragrances and colours are made by a recipe. A "
        "formula reckons lye, water and superfat by each fat, liquid and acid, and what it reckons of a mix would not follow "
        "its parts: name the parts in the formula, each as a line of its own."
    )
    raise Conflict("kind_not_mixed", said, field="material")


def _check_part_kind(number: int, material: Material, recipes: dict[int, Recipe]) -> None:
    if material.kind == Material.Kind.LYE or holds_lye(material.workshop, material, recipes):
        what = "is lye" if material.kind == Material.Kind.LYE else "holds lye"
        said = f"{material} {what}, and lye goes into no mix: take it out."
        raise Conflict("lye_part", said, field="parts", line=number)
    if material.kind not in MIXED_KINDS and material.measure == Material.Measure.GRAMS:
        said = (
            f"{material} is of the kind {material.get_kind_display()}: a recipe takes additives, fragrances and colours, "
            "and by its name what is not kept in the storeroom. What a formula reckons by fats, liquids and acids would not "
            "follow a mix: name them in the formula itself."
        )
        raise Conflict("kind_not_mixed", said, field="parts", line=number)


def _check_solution(made: Material, parts: list[dict], recipes: dict[int, Recipe]) -> None:
    """Refuse what is lye and made of anything but one dry lye and of one thing that is not kept: water, as flows see to."""
    kept = [part["material"] for part in parts if part["material"] is not None]
    if len(kept) != 1 or len(parts) != 2 or kept[0].kind != Material.Kind.LYE:
        said = f"{made} is lye: it is made of one dry lye of the storeroom and of water, by its name, and of nothing else."
        raise Conflict("not_lye_in_water", said, field="parts")
    (dry,) = kept
    if dry.pk in recipes or Making.objects.within(made.workshop).filter(lot__material=dry).exists():
        said = f"{dry} is dissolved already: name the dry lye that it is made of, and dissolve that."
        raise Conflict("lye_of_lye", said, field="parts")
    came_in = Lot.objects.within(made.workshop).filter(material=made, made_by__isnull=True)
    if came_in.exists() or any(part.material_id == made.pk for one in recipes.values() for part, _share in one.shares):
        said = f"Lots of {made} came in, or it goes into others: enter a material of its own for what you dissolve."
        raise Conflict("lye_came_in", said, field="material")


def _clean_part(number: int, part: PartEntry, made: Material, rows: dict[int, Material]) -> dict[str, object]:
    material = None if part.material is None else rows[part.material.pk]
    if material is not None and material.measure != Material.Measure.GRAMS:
        raise Invalid("not_in_grams", f"{material} is counted in pieces: a recipe goes by mass.", field="parts", line=number)
    name = material.name if material is not None else clean_name(part.name, field="parts", what="The part's name")
    if not part.parts.is_finite() or not SMALLEST_G <= part.parts <= LARGEST_G:
        said = f"{name}: how many parts by mass? Type a figure above 0."
        raise Invalid("parts", said, field="parts", line=number)
    if material == made:
        raise Invalid("of_itself", f"{made} cannot be made from itself: leave it out.", field="parts", line=number)
    return {"material": material, "name": name, "parts": part.parts.quantize(SMALLEST_G)}


def _check_parts(made: Material, parts: list[dict], recipes: dict[int, Recipe]) -> None:
    if len(parts) > MOST_PARTS:
        raise Invalid("too_many", f"A recipe has at most {MOST_PARTS} parts.", field="parts")
    if parts and made.kind == Material.Kind.LYE:
        _check_solution(made, parts, recipes)
        return
    names = [part["name"].casefold() for part in parts]
    if twice := next((part["name"] for part in parts if names.count(part["name"].casefold()) > 1), ""):
        raise Invalid("part_twice", f"{twice} is named twice: put it together.", field="parts")
    for number, part in enumerate(parts):
        material = part["material"]
        if material is not None:
            _check_part_kind(number, material, recipes)
        if material is not None and made.pk in parts_down(recipes, material.pk):
            said = f"{material} is itself made from {made}: a blend cannot be made from itself. Take one of them out."
            raise Conflict("of_itself", said, field="parts")


def _clean_yield(yielded: Decimal) -> Decimal:
    if not yielded.is_finite() or not _YIELD_STEP <= yielded <= 1:
        raise Invalid("yield", "What comes of the parts lies above 0 and at most at 100\u00a0% of them.", field="yielded")
    return yielded.quantize(_YIELD_STEP)


def _clean_keeps(days: int | None) -> int | None:
    if days is not None and not 1 <= days <= MOST_KEEPS_DAYS:
        raise Invalid("keeps", f"It keeps for between 1 and {MOST_KEEPS_DAYS} days; empty: nobody knows.", field="keeps_days")
    return days


@dataclass(frozen=True, slots=True)
class TakeEntry:
    """What went into a blend, in grams: of a lot, or of what is not kept in the storeroom by its name."""

    amount_g: Decimal
    lot: Lot | None = None
    name: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class MakingEntry:
    """A blend that was made; without a best-before it keeps as its recipe says, and never longer than what is in it.

    *recipe* is the key of the one it was made by; if another has come since, it is refused. *is_off_confirmed*: lye
    that is further from its recipe than weighing explains was really weighed so.
    """

    made_g: Decimal
    takes: Sequence[TakeEntry]
    made_at: datetime
    best_before: date | None = None
    standing: str = Lot.Standing.QUARANTINE
    why: str = ""
    note: str = ""
    recipe: int | None = None
    is_off_confirmed: bool = False


@transaction.atomic
def make_blend(
    *, actor: Actor, material: Material, entry: MakingEntry, at: datetime, source: str = PAGE, dissolves: float = 1.0
) -> Making:
    """Book that a blend was made: what it took of lots, and the lot that came of it.

    It is released by a person alone, where it is lye; made from a lot that is not in order it waits in quarantine, and
    so does lye of which clearly more went in than the *dissolves* grams that are counted on in a gram of water.
    """
    workshop = actor.workshop
    # Materials, then the number counted up, then lots: as all that writes lots locks them.
    lock_for_lots(workshop=workshop, materials=[material])
    blend = _in_force(workshop, material, entry)
    recipe = recipe_of(blend)
    is_lye = _is_lye(actor, recipe, entry)
    made_g = clean_amount(entry.made_g, material, field="made_g", what="What was made")
    lots = lock_lots(workshop=workshop, lots=[take.lot for take in entry.takes if take.lot is not None])
    _check_takes(actor, recipe, entry, lots, made_g)
    is_doubtful = is_lye and _check_strength(recipe, entry, made_g) > dissolves * _OVER
    used, is_irregular = [], False
    for number, take in enumerate(entry.takes):
        row, irregular = _taken(actor, number, take, lots, entry.made_at, at=at, source=source)
        used.append(row)
        is_irregular = is_irregular or irregular
    lot = _received(
        actor, at=at, source=source,
        entry=ReceiptEntry(
            material=material,
            amount=made_g,
            received_on=local_day(entry.made_at, workshop.time_zone),
            best_before=_best_before(entry, blend, lots, zone=workshop.time_zone),
            unit_cost=_cost(entry, lots, made_g),
            standing=Lot.Standing.QUARANTINE if is_irregular or is_doubtful else entry.standing,
            why=TOO_STRONG if is_doubtful else entry.why.strip() or f"made by {blend}",
        ),
    )  # fmt: skip
    making = Making.unscoped.create(
        workshop=workshop, blend=blend, lot=lot, made_g=made_g, made_at=entry.made_at, note=clean_note(entry.note),
        written_at=at, **actor.signature,
    )  # fmt: skip
    MakingTake.unscoped.bulk_create(MakingTake(workshop=workshop, making=making, **one) for one in used)
    logger.info("blend made: workshop=%s lot=%s making=%s", workshop.pk, lot.pk, making.pk)
    return making


def _in_force(workshop: Workshop, material: Material, entry: MakingEntry) -> Blend:
    """Return the recipe by which a material is made today, if it is the one it was shown by."""
    blend = Blend.objects.within(workshop).in_force().filter(material=material.pk).first()
    if blend is None:
        raise Conflict("no_recipe", f"Nobody wrote down what {material} is made from: do that first.", field="material")
    if entry.recipe is not None and entry.recipe != blend.pk:
        said = f"What {material} is made from was written anew meanwhile: look at it, and at what went in."
        raise Conflict("written_meanwhile", said)
    return blend


def _is_lye(actor: Actor, recipe: Recipe, entry: MakingEntry) -> bool:
    """Return whether lye is made, which a person alone releases; refuse what may not be made, or not stand so."""
    made = recipe.material
    _check_kind(made)
    is_lye = made.kind == Material.Kind.LYE
    if not is_lye and holds_lye(actor.workshop, made, recipes_of(actor.workshop)):
        said = f"{made} holds lye, and lye goes into no mix: change its recipe first."
        raise Conflict("lye_part", said, field="material")
    if entry.standing == Lot.Standing.RELEASED and is_lye:
        actor.must_be_a_person("release a blend that holds lye", instead="It may enter in quarantine.", field="standing")
    if entry.standing not in (Lot.Standing.QUARANTINE, Lot.Standing.RELEASED):
        raise Invalid("standing", "What was made is released or waits in quarantine: choose one.", field="standing")
    return is_lye


def _check_strength(recipe: Recipe, entry: MakingEntry, made_g: Decimal) -> float:
    """Ask about lye that is not as strong as its recipe; return the grams of lye in a gram of the water in it."""
    dry_g = sum((take.amount_g for take in entry.takes if take.lot is not None), Decimal(0))
    share, (meant,) = dry_g / made_g, (share for part, share in recipe.shares if part.material_id is not None)
    if not entry.is_off_confirmed and abs(share / meant - 1) > _OFF_RECIPE:
        said = (
            f"In 100 g of it would be {100 * share:.1f} g of lye, and by its recipe {100 * meant:.1f} g: look at each weight "
            "again. What is typed too low here is weighed out as too much lye later. If it was weighed so, confirm it."
        )
        raise Conflict("other_strength", said, field="is_off_confirmed")
    return float(dry_g / (made_g - dry_g)) if dry_g < made_g else inf


def _received(actor: Actor, *, entry: ReceiptEntry, at: datetime, source: str) -> Lot:
    try:
        return receive(actor=actor, entry=entry, at=at, source=source)
    except DomainError as error:
        error.field = "made_at" if error.field == "received_on" else error.field
        raise


def _check_takes(actor: Actor, recipe: Recipe, entry: MakingEntry, lots: dict[int, Lot], made_g: Decimal) -> None:
    if len(entry.takes) > MOST_TAKES:
        raise Invalid("too_many", f"At most {MOST_TAKES} lots and parts go into one lot: make it in two.", field="takes")
    kept = {part.material_id: part.name for part, _share in recipe.shares if part.material_id is not None}
    unkept = {part.name.casefold(): part.name for part, _share in recipe.shares if part.material_id is None}
    taken: set[object] = set()
    lots_taken: set[int] = set()
    for number, take in enumerate(entry.takes):
        key = take.name.casefold() if take.lot is None else lots[take.lot.pk].material_id
        if key not in kept and key not in unkept:
            what = take.name if take.lot is None else str(lots[take.lot.pk].material)
            raise Invalid(
                "no_part", f"{what} is no part of {recipe.blend}: change the recipe first.", field="takes", line=number
            )
        taken.add(key)
        if take.lot is not None and take.lot.pk in lots_taken:
            said = f"{lots[take.lot.pk]} is named twice: put it together."
            raise Invalid("lot_twice", said, field="takes", line=number)
        lots_taken |= set() if take.lot is None else {take.lot.pk}
    if missing := next((name for key, name in {**kept, **unkept}.items() if key not in taken), ""):
        raise Invalid("part_missing", f"Nothing of {missing} went in, and it is a part of {recipe.blend}.", field="takes")
    whole = sum((take.amount_g for take in entry.takes), Decimal(0))
    if made_g > whole:
        unit = actor.workshop.unit
        came, went = show_amount(made_g, recipe.material, unit), show_amount(whole, recipe.material, unit)
        raise Invalid("more_than_went_in", f"{came} cannot come of {went}: check both figures.", field="made_g")


def _taken(
    actor: Actor, number: int, take: TakeEntry, lots: dict[int, Lot], moment: datetime, *, at: datetime, source: str
) -> tuple[dict[str, object], bool]:
    if take.lot is None:
        return {"movement": None, "name": take.name, "amount_g": _clean_unkept(take, number)}, False
    lot = lots[take.lot.pk]
    try:
        used = use(
            actor=actor, lot=lot, amount=take.amount_g, moment=moment, at=at, reason=take.reason, source=source
        )  # fmt: skip
    except DomainError as error:
        error.data["line"] = number
        error.field = "made_at" if error.field == "moment" else error.field
        raise
    return {"movement": used.movement, "name": lot.material.name, "amount_g": -used.movement.amount}, bool(used.irregular)


def _clean_unkept(take: TakeEntry, number: int) -> Decimal:
    if take.amount_g.is_finite() and take.amount_g > LARGEST_G:
        raise Invalid(
            "too_large", f"{take.name}: over {LARGEST_G} g is more than any lot: check the figure.", field="takes", line=number
        )
    if not take.amount_g.is_finite() or take.amount_g < SMALLEST_G:
        raise Invalid("mass", f"{take.name}: how much went in? Type a weight above 0.", field="takes", line=number)
    return take.amount_g.quantize(SMALLEST_G)


def _best_before(entry: MakingEntry, blend: Blend, lots: dict[int, Lot], *, zone: str) -> date | None:
    if entry.best_before is not None:
        return entry.best_before
    days = [lot.best_before for lot in lots.values() if lot.best_before is not None]
    if blend.keeps_days is not None:
        days.append(local_day(entry.made_at, zone) + timedelta(days=blend.keeps_days))
    return min(days, default=None)


def _cost(entry: MakingEntry, lots: dict[int, Lot], made_g: Decimal) -> Decimal | None:
    """Return what a gram cost; None where the cost of a lot that went in is not known."""
    costs = [(lots[take.lot.pk].unit_cost, take.amount_g) for take in entry.takes if take.lot is not None]
    if not costs or any(cost is None for cost, _grams in costs):
        return None
    return (sum((cost * grams for cost, grams in costs if cost is not None), Decimal(0)) / made_g).quantize(Decimal("0.000001"))
