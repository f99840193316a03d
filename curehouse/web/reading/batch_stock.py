"""What a batch took from the storeroom, and what holds it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.urls import reverse

from curehouse.common.units import show_mass
from curehouse.flows.use_stock import Proposal
from curehouse.making.models import Batch, BatchHold, BatchUse
from curehouse.web.reading.amounts import amount_words
from curehouse.web.reading.days import Calendar
from curehouse.workshops.models import Workshop
from inventory.blends import lots_within
from inventory.models import Irregular, MakingTake, Material
from inventory.solutions import solutions_of

# Dry lye is weighed to a gram or so, and counted as dry where it was dissolved.
_LYE_BOOKED_WITHIN = Decimal("0.02")


@dataclass(frozen=True, slots=True)
class UseShown:
    """An amount taken from a lot."""

    amount: str
    lot: str
    lot_href: str
    note: str
    take_back_href: str
    within: str


@dataclass(frozen=True, slots=True)
class HoldShown:
    """What holds a batch: the cause, who said so and when; ``lift_href`` while it stands."""

    cause: str
    note: str
    lifted: str
    lift_href: str


@dataclass(frozen=True, slots=True)
class BatchStock:
    """What a batch took, and what holds it; ``lye`` says where another amount of it is booked than went in."""

    uses: tuple[UseShown, ...]
    lye: str
    holds: tuple[HoldShown, ...]
    is_held: bool


def read_batch_stock(batch: Batch, workshop: Workshop, calendar: Calendar) -> BatchStock:
    """Read what a batch took, with what is in it, and what holds it.

    Two queries, one for each level of blends, and two where it took lye that was dissolved beforehand.
    """
    uses = list(
        BatchUse.objects.within(workshop).filter(batch=batch).in_force().select_related("by_user", "by_device").order_by("pk")
    )
    holds = (
        BatchHold.objects.within(workshop)
        .filter(batch=batch)
        .select_related("by_user", "by_device", "lift__by_user", "lift__by_device")
        .order_by("-pk")
    )
    within = lots_within(workshop, {use.movement.lot_id for use in uses})
    shown = tuple(_hold(hold, calendar) for hold in holds)
    return BatchStock(
        uses=tuple(_use(use, workshop.unit, calendar, within) for use in uses),
        lye=_lye_words(batch, uses, within, workshop),
        holds=shown,
        is_held=any(hold.lift_href for hold in shown),
    )


def _use(use: BatchUse, unit: str, calendar: Calendar, within: Mapping[int, list[MakingTake]]) -> UseShown:
    lot = use.movement.lot
    said = [calendar.moment(use.movement.moment), use.signed_by]
    if use.irregular:
        said.append(f"{Irregular(use.irregular).label} then: {use.reason}")
    return UseShown(
        amount=amount_words(-use.movement.amount, lot.material, unit),
        lot=str(lot),
        lot_href=reverse("web:lot", args=[lot.pk]),
        note=", ".join(said),
        take_back_href=reverse("web:movement_take_back", args=[use.movement_id]),
        within=", ".join(_within(lot.pk, within)),
    )


def _lye_words(batch: Batch, uses: Sequence[BatchUse], within: Mapping[int, list[MakingTake]], workshop: Workshop) -> str:
    """Say how much of the lye that went in is booked, where that is another amount by more than a scale tells."""
    lye = [(use.movement.lot, -use.movement.amount) for use in uses if use.movement.lot.material.kind == Material.Kind.LYE]
    if not lye or batch.lye_g is None:
        return ""
    made = solutions_of(workshop, {lot.pk for lot, _grams in lye if lot.pk in within})
    booked_g = Decimal(0)
    for lot, grams in lye:
        known = made.get(lot.pk)
        if lot.pk in within and known is None:
            return ""
        booked_g += grams if known is None else grams * known.share
    off_g = batch.lye_g - booked_g
    if abs(off_g) <= batch.lye_g * _LYE_BOOKED_WITHIN:
        return ""
    went_in, booked, off = (show_mass(grams, workshop.unit) for grams in (batch.lye_g, booked_g, abs(off_g)))
    if off_g > 0:
        return f"Of the {went_in} of lye that went in, {booked} are booked: if the rest came from here too, book {off} more."
    return f"{booked} of lye are booked, and {went_in} went in: take back what was not for this batch ({off})."


def _within(lot: int, within: Mapping[int, list[MakingTake]]) -> Iterator[str]:
    """Return the lots that went into one that was made here, and into those."""
    for take in within.get(lot, ()):
        if take.movement is not None:
            yield str(take.movement.lot)
            yield from _within(take.movement.lot_id, within)


def _hold(hold: BatchHold, calendar: Calendar) -> HoldShown:
    lift = getattr(hold, "lift", None)
    reason = f": {hold.reason}" if hold.reason else ""
    return HoldShown(
        cause=hold.cause,
        note=f"{calendar.moment(hold.at)}, {hold.signed_by}{reason}",
        lifted=f"Lifted {calendar.moment(lift.at)}, {lift.signed_by}: {lift.why}" if lift else "",
        lift_href="" if lift else reverse("web:hold_lift", args=[hold.pk]),
    )


def short_words(material: Material, amount: Decimal, proposal: Proposal, unit: str) -> str:
    """Return what is missing of a material, and what is here but not in order; empty where all is well."""
    if not proposal.short:
        return ""
    short = amount_words(proposal.short, material, unit)
    said = f"{material}: of {amount_words(amount, material, unit)} asked for, {short} are not here by the book."
    passed = ", ".join(f"{lot} is {Irregular(why).label}" for lot, why in proposal.passed_over)
    return f"{said} Not proposed: {passed}." if passed else said
