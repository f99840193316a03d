"""A house in which every table of the workshops has a row, all written by the verbs."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from secrets import token_hex
from uuid import uuid4

from django.apps import apps

from curehouse.common.uploads import Kept
from curehouse.core.cure.forecast.prior import cold_prior
from curehouse.curing.labels import LabelAsked
from curehouse.curing.models import Cure, Rack
from curehouse.curing.services.forecasts import (
    Answer,
    ForecastEntry,
    Learnt,
    answer_with_forecasts,
    claim_learning,
    end_learning,
    keep_calibration,
    keep_prior,
    keep_records,
)
from curehouse.curing.services.labels import keep_label
from curehouse.curing.services.rooms import add_room
from curehouse.flows.assess import assess_batch
from curehouse.flows.blends import make_blend, write_blend
from curehouse.flows.bring_in.options import Options
from curehouse.flows.bring_in.outcome import Findings, Refusal, outcome
from curehouse.flows.check import check
from curehouse.flows.log_air import log_air, sensed, withdraw
from curehouse.flows.order_notices import renew_orders
from curehouse.flows.orders import send_order
from curehouse.flows.pour import begin, say
from curehouse.flows.proposal_notices import renew_proposals
from curehouse.flows.receive_order import LineCame, LotCame, receive_order
from curehouse.flows.runs import plan_run
from curehouse.flows.stand_rack import stand_rack
from curehouse.flows.take_off import put_off
from curehouse.flows.take_out import take_out
from curehouse.flows.turn import turn_batches
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.flows.weigh import keep
from curehouse.intake.services import end_step, note_brought, remember_columns, write_import
from curehouse.making.models import Batch, FormulaVersion, Run
from curehouse.making.pouring.saying import Said
from curehouse.making.services import CutSeen, TakeOutEntry, lift_hold, note_cut
from curehouse.making.services.facts import FactsEntry, write_facts
from curehouse.making.services.formulas import write_formula
from curehouse.selling.services import add_market
from curehouse.workshops.scoping import ScopedModel
from curehouse.workshops.services import add_tare, begin_submission, change_preferences, check_scale, give_token
from curehouse.workshops.services.audit import note
from curehouse.workshops.services.invitations import invite
from inventory.models import Lot, Material, OrderLine
from inventory.services.blends import BlendEntry, MakingEntry, PartEntry, TakeEntry
from inventory.services.lots import LotPapers, correct_lot, record_value
from inventory.services.offers import TermsEntry, write_terms
from inventory.services.orders import write_order
from inventory.services.papers import attach_file, look_through
from inventory.services.proposals import keep_proposal
from inventory.services.store_counts import count_in_store
from tests.formulas import LIQUIDS, fat, formula_entry
from tests.world import World

SCOPED = [model for model in apps.get_models() if issubclass(model, ScopedModel)]


def with_everything(world: World) -> Batch:
    """Put a row into every table of *world*'s workshop; return its batch."""
    change_preferences(workshop=world.workshop, changes={"check_limit": "no darker than square 9"})
    give_token(actor=world.actor, name="Rack tablet", reach="works", at=world.now)
    check_scale(
        actor=world.actor, scale=world.scale, test_weight_g=Decimal(200), shown_g=Decimal("199.9"), at=world.now
    )  # fmt: skip
    add_tare(scale=world.scale, name="tray", weight_g=Decimal("84.0"))
    add_market(actor=world.actor, name="Winter fair", held_on=world.now.date() + timedelta(days=60), at=world.now)
    invite(actor=world.actor, role="maker", email="wren@fennelyard.example", at=world.now)
    note(actor=world.actor, code="batch_new", said="Entered a batch: Castile 1", at=world.now)
    begin_submission(workshop=world.workshop, key="a form", content=b"", at=world.now)
    batch = world.batch(position=world.position(world.rack()))
    world.weigh_series(batch, {0: "130.0", 15: "121.0", 22: "120.2", 29: "120.0"})
    reading = world.weigh(world.bar(batch), "12.0", moment=world.now - timedelta(hours=1))
    keep(actor=world.actor, reading=reading, at=world.now)
    check(
        actor=world.actor, batch=batch, method="pH strip", value="square 8", passed=True, note="",
        checked_at=world.now, at=world.now,
    )  # fmt: skip
    turn_batches(actor=world.actor, batch_ids=[batch.pk], turned_at=world.days_ago(20), at=world.now)
    note_cut(actor=world.actor, batch=batch, seen=CutSeen("part", Decimal("86.5"), "the knife dragged"), at=world.now)
    with_blend(world)
    with_orders(world)
    with_stock(world, batch)
    with_room(world)
    write_facts(material=row_of(world, Material), entry=FactsEntry(key="olive", source="the mill"))
    with_run(world, batch)
    with_import(world)
    assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now)
    with_forecast(world, batch)
    asked = LabelAsked("directive_76_211", "open", world.now.date(), 0, Decimal("0.950"))
    keep_label(actor=world.actor, batch=batch, asked=asked, at=world.now)
    entry = TakeOutEntry(bars=2, purpose="gift", taken_at=world.now, forced_reason="a neighbour asked")
    take_out(actor=world.actor, batch=batch, entry=entry, at=world.now)
    return batch


def with_stock(world: World, batch: Batch) -> None:
    """Put a row into every table of the storeroom, and one into each of what *batch* took from it."""
    lot = world.lot(supplier=world.supplier(), best_before=world.now.date() - timedelta(days=3))
    record_value(actor=world.actor, lot=lot, name="Purity", value=Decimal("99.2"), unit="%", at=world.now)
    attach_file(actor=world.actor, lot=lot, paper=look_through("certificate.txt", b"99.2 %"), at=world.now, without_prices=True)
    papers = LotPapers(supplier_lot="BM-2210", best_before=lot.best_before, unit_cost=lot.unit_cost)
    correct_lot(actor=world.actor, lot=lot, papers=papers, why="misread", at=world.now)
    line = UseLine(lot, Decimal(1100), reason="three days over, smelt fresh")
    (use,) = book_use(actor=world.actor, batch=batch, lines=[line], used_at=world.now, at=world.now)
    lift_hold(actor=world.actor, hold=use.hold, why="tested, in order", at=world.now)
    found = {"counted": None, "moment": world.now, "is_estimate": True, "on_walk": True}
    count_in_store(actor=world.actor, lot=lot, at=world.now, **found)


def with_orders(world: World) -> None:
    """Put a row into every table of what is ordered: an order partly in, and one that is written."""
    supplier = world.supplier()
    write_terms(actor=world.actor, supplier=supplier, terms=TermsEntry(Decimal(9), Decimal(200), Decimal(15), 6))
    lye = world.offer(material=world.material("Sodium hydroxide", kind="lye"), is_hazardous=True)
    offer = world.offer(breaks=[(4, Decimal("7.20"))])
    asked = {"actor": world.actor, "at": world.now}
    order = write_order(supplier=supplier, packs={offer.pk: 4, lye.pk: 1}, **asked)
    order = send_order(order=order, sent_on=world.days_ago(9).date(), **asked)
    oil, rest = OrderLine.objects.within(world.workshop).filter(order=order).in_order()
    came = [LineCame(oil.pk, lots=[LotCame(3, supplier_lot="BM-2301")]), LineCame(rest.pk, lots=[LotCame(1)])]
    receive_order(order=order, received_on=world.days_ago(2).date(), came=came, **asked)
    renew_orders(workshop=world.workshop, at=world.now, tells_new=True)
    written = write_order(supplier=supplier, packs={lye.pk: 1}, **asked)
    day = world.now.date()
    put_off(actor=world.actor, material=lye.material, until=day + timedelta(days=14), why="enough for now", at=world.now)
    keep_proposal(order=written, day=day, decide_by=day, lines=[], at=world.now)
    renew_proposals(workshop=world.workshop, at=world.now, tells_new=True)


def with_run(world: World, batch: Batch) -> None:
    """Put a row into every table of formulas and of runs that are planned."""
    olive = row_of(world, Material)
    lines = (fat("olive", "700", material=olive), fat("coconut", "300"), *LIQUIDS)
    version = write_formula(actor=world.actor, entry=formula_entry(name=batch.formula.name, lines=lines), at=world.now)
    day = world.now.date() + timedelta(days=12)
    run = plan_run(actor=world.actor, version=version, fats_g=Decimal(2000), pour_on=day, bars=3, at=world.now)
    with_pour(world, version, run)


def with_pour(world: World, version: FormulaVersion, run: Run) -> None:
    """Put a row into every table of pours at the table."""
    told = {"actor": world.actor, "at": world.now}
    pour = begin(version=version, fats_g=Decimal(2000), run=run, **told)
    say(pour=pour, said=Said("caution", uuid4()), **told)
    first = say(pour=pour, said=Said("note", uuid4(), words="the window is open"), **told)
    say(pour=pour, said=Said("note", uuid4(), words="both windows are open", corrects=first.pk), **told)
    # The lot that all else is of: it is past its best-before.
    weighed = Said(
        "weighed", uuid4(), slot="0", lot=row_of(world, Lot), scale=world.scale, amount_g=Decimal(1400), stands=True,
        words="smelt fresh",
    )  # fmt: skip
    say(pour=pour, said=weighed, **told)


def with_blend(world: World) -> None:
    """Put a row into every table of what is made from others."""
    oil = world.material("Marigold oil", kind="fragrance")
    asked = {"actor": world.actor, "at": world.now}
    mix = world.material("Meadow mix", kind="fragrance")
    parts = [PartEntry(Decimal(1), oil), PartEntry(Decimal(9), name="spirit")]
    write_blend(material=mix, entry=BlendEntry(parts), **asked)
    takes = [TakeEntry(Decimal(10), world.lot("50", material=oil)), TakeEntry(Decimal(90), name="spirit")]
    make_blend(material=mix, entry=MakingEntry(Decimal(100), takes, world.now, standing="released"), **asked)


def with_room(world: World) -> None:
    """Put a row into every table of the rooms and their log."""
    room = add_room(workshop=world.workshop, name="Drying room")
    stand_rack(actor=world.actor, rack=row_of(world, Rack), room=room, since=None, at=world.now)
    for hours in (2, 1):
        moment = world.now - timedelta(hours=hours)
        entry = sensed(world.actor, moment=moment, humidity_pct=Decimal(61), temperature_c=Decimal(18))
        reading, _is_new = log_air(actor=world.actor, room=room, entry=entry, at=world.now)
    withdraw(actor=world.actor, reading=reading, reason="held in the hand", at=world.now)
    log_air(actor=world.actor, room=room, entry=replace(entry, key="again"), at=world.now)


def with_import(world: World) -> None:
    """Put a row into every table of what was brought in."""
    kept = Kept(token_hex(32), "0" * 64)
    brought = write_import(
        actor=world.actor, kind="batches", name="log.csv", kept=kept, options=Options().to_json(), at=world.now
    )
    findings = Findings()
    findings.refuse(Refusal(2, "C2", "weight", "heavy", "is no number: type figures, like 118.6"))
    checked = outcome(findings, rows_read=1, adds={}, known={})
    end_step(brought=brought, state=brought.State.CHECKED, outcome=checked.to_json(), at=world.now)
    remember_columns(workshop=world.workshop, kind="batches", said={"Charge": "batch"})
    note_brought(workshop=world.workshop, kind="stock", keys=["0" * 64], brought=brought)


def row_of(world: World, model: type[ScopedModel]) -> ScopedModel:
    """Return a row of *model* in *world*'s workshop; raises AssertionError where there is none."""
    row = model.unscoped.filter(workshop=world.workshop).order_by("pk").last()
    assert row is not None, f"tests/everything.py writes no {model.__name__}: add one"
    return row


RANGE = {"p10": 30.0, "p50": 33.0, "p90": 37.0}
RULE = {
    "min_days": 28, "weekly_loss_limit_pct": 0.75, "water_left_limit_pct": None, "latest_day": 56,
    "soft_water_of_bar_pct": None, "horizon_days": 126,
}  # fmt: skip
BAR = {"label": "A", "days": [0.0, 28.0], "weights_g": [120.0, 110.0]}
ASKED = {"rule": RULE, "step_g": 0.1, "days": [28.0, 56.0]}
FORETOLD = {
    "key": "1", "weighings": 4, "ready_day": RANGE, "soft_probability": 0.1, "weight_g": {"A": [RANGE, RANGE]},
    "new_bar": [{"day": day, "weight_g": RANGE, "mean_g": 33.0, "mean_sd_g": 1.0, "bar_sd_g": 2.0} for day in (28.0, 56.0)],
    "water_left_pct": [RANGE, RANGE], "odd_probability": 0.1,
}  # fmt: skip


def with_forecast(world: World, batch: Batch) -> None:
    """Keep what was learnt, and a forecast by it: in the rows, not worked out."""
    workshop, at = world.workshop, world.now
    content = {"key": f"{batch.number}", "formula": "Castile", "water_share": 0.3, "cut_day": 739000, "bars": [BAR]}
    record = keep_records(workshop=workshop, contents={"a" * 64: content})["a" * 64]
    learning = claim_learning(workshop=workshop, at=at)
    prior = keep_prior(workshop=workshop, fingerprint="b" * 64, method="cure-2", prior=cold_prior().as_plain(), cures=0, at=at)
    found = keep_calibration(workshop=workshop, fingerprint="c" * 64, method="cure-2", calibration={}, at=at)
    learnt = (Learnt([[None, prior.pk]], found), Learnt([], None))
    end_learning(learning=learning, learnt=learnt, fingerprint="d" * 64, at=at)
    entry = ForecastEntry(
        moment=at, method="cure-2", fingerprint="e" * 64, record=record, beside=[], room=None, prior=prior,
        calibration=found, asked=ASKED, foretold=FORETOLD,
    )  # fmt: skip
    cure = Cure.objects.within(workshop).get(batch=batch)
    answer_with_forecasts(workshop=workshop, answers=[Answer(cure.pk, cure.forecast_wanted_at, entry)], at=at)
