"""What a batch took from the storeroom, and what holds it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal

from django.urls import reverse

from curehouse.flows.use_stock import Proposal
from curehouse.making.models import Batch, BatchHold, BatchUse
from curehouse.web.reading.amounts import amount_words
from curehouse.web.reading.days import Calendar
from curehouse.workshops.models import Workshop
from inventory.blends import lots_within
from inventory.models import Irregular, MakingTake, Material


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
    """What a batch took, and what holds it."""

    uses: tuple[UseShown, ...]
    holds: tuple[HoldShown, ...]
    is_held: bool


def read_batch_stock(batch: Batch, workshop: Workshop, calendar: Calendar) -> BatchStock:
    """Read what a batch took, with what is in it, and what holds it (two queries, and one for each level of blends)."""
    uses = (
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
