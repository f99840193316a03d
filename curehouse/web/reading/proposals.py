"""What the house would order, as pages show it: by when it is to be decided, and of each line why."""

from dataclasses import dataclass
from decimal import Decimal

from django.urls import reverse

from curehouse.common.time import day_words
from curehouse.flows.proposal_words import line_words
from curehouse.flows.waiting_costs import waiting_costs
from curehouse.making.models import Run
from curehouse.web.access import Visit
from curehouse.web.reading.amounts import about_words, amount_words
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.offers import money_of
from curehouse.web.reading.waiting_costs import waiting_words
from curehouse.web.reading.words import count
from inventory.models import Material, Offer, Order, Proposal


@dataclass(frozen=True, slots=True)
class WhyRow:
    """A line the house would order: what, and why, the first sentence alone at first."""

    name: str
    href: str
    packs: str
    lead: str
    more: tuple[str, ...]
    put_off: str


@dataclass(frozen=True, slots=True)
class ProposalView:
    """What the house would order with an order that is written."""

    decide_by: str
    is_today: bool
    as_of: str
    reckoned: str
    rows: tuple[WhyRow, ...]


def read_proposal(visit: Visit, order: Order) -> ProposalView | None:
    """Return what the house would order with this order while it is written; five queries."""
    kept = Proposal.objects.within(visit.workshop).filter(order=order).first()
    if kept is None or order.state != Order.State.WRITTEN:
        return None
    today, lines = Calendar(visit.workshop, visit.at).today, kept.lines
    materials = Material.objects.within(visit.workshop).in_bulk([line["material"] for line in lines])
    offers = Offer.objects.within(visit.workshop).in_bulk([line["offer"] for line in lines])
    wanted = {one["run"] for line in lines for one in line["why"]["planned"]}
    runs = Run.objects.within(visit.workshop).select_related("formula").in_bulk(wanted)
    unit = visit.workshop.unit

    def said(quantity: float, material: Material) -> str:
        if material.measure == Material.Measure.PIECES:
            return count(round(quantity), "piece")
        return about_words(quantity, material, unit).removeprefix("about ")

    rows = []
    for line in lines:
        material = materials[line["material"]]
        lead, *more = line_words(line, material, runs, day=kept.day, today=today, said=said, money=money_of(visit))
        pack = amount_words(Decimal(offers[line["offer"]].pack), material, unit)
        rows.append(
            WhyRow(
                name=material.name,
                href=reverse("web:material", args=[material.pk]),
                packs=f"{count(line['packs'], 'pack')} of {pack}",
                lead=lead,
                more=tuple(more),
                put_off=reverse("web:material_put_off", args=[material.pk]),
            )
        )
    is_today = kept.decide_by <= today
    return ProposalView(
        decide_by="today" if is_today else day_words(kept.decide_by, today=today),
        is_today=is_today,
        as_of=day_words(kept.day, today=today),
        reckoned=waiting_words(waiting_costs(workshop=visit.workshop, at=visit.at), visit.workshop.currency),
        rows=tuple(rows),
    )
