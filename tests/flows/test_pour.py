"""A pour at the table: nothing moves before its end, and its end moves everything once."""

import uuid
from datetime import timedelta
from decimal import Decimal

import pytest

from curehouse.common.errors import Conflict, DomainError, Invalid, NotHere
from curehouse.core.chemistry.at_table import Answer
from curehouse.flows.pour import Stopped, begin, finish, stop
from curehouse.flows.runs import plan_run
from curehouse.making.formulas.reading import kept
from curehouse.making.models import Batch, BatchHold, BatchLiquid, BatchUse, Pour, PourStep, Run
from curehouse.making.pouring.table import Kind
from curehouse.making.services.formulas import write_version
from inventory.models import Lot, Movement
from tests.pouring import Bench, lot_with
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(world: World) -> Bench:
    return Bench(world)


def held(lot: Lot) -> Decimal:
    return Lot.unscoped.get(pk=lot.pk).on_hand


def planned(bench: Bench) -> Run:
    day = bench.world.now.date() + timedelta(days=2)
    return plan_run(actor=bench.world.actor, version=bench.version, fats_g=Decimal(1000), pour_on=day, at=bench.world.now)


def test_a_pour_from_the_cautions_to_its_batch(bench: Bench) -> None:
    world, run = bench.world, planned(bench)
    pour = bench.begin(run)
    assert list(bench.table(pour).order) == [
        "caution", "0", "1", "2", "3", "naoh", "dissolved", "lye_temp", "fats_temp", "trace", "stirred", "mould", "place",
    ]  # fmt: skip
    movements = Movement.objects.within(world.workshop).count()
    bench.go_on(pour, until="mould")
    bench.say(pour, "mould", words="the long one")
    bench.say(pour, "place", words="freezer")
    # Nothing of the storeroom moved, and no batch is there.
    assert Movement.objects.within(world.workshop).count() == movements
    assert not Batch.objects.within(world.workshop).exists()
    batch = finish(actor=world.actor, pour=pour, at=world.now)
    # 700 x 190 + 300 x 256 = 209.8 g KOH; x 39.997 / 56.106 x 0.95 / 0.99 = 143.5 g by a scale of 0.1 g.
    assert (batch.fats_g, batch.lye_g, batch.koh_g) == (Decimal(1000), Decimal("143.5"), Decimal(0))
    assert [held(bench.lots[one]) for one in ("0", "1", "naoh")] == [Decimal(4300), Decimal(4700), Decimal("4856.5")]
    assert batch.superfat_by_lots
    assert batch.superfat_low > 0
    assert float(batch.superfat_middle) == pytest.approx(0.05, abs=6e-4)
    liquids = {one.kind: (one.mass_g, one.place) for one in BatchLiquid.objects.within(world.workshop).filter(batch=batch)}
    assert liquids == {"water": (Decimal(150), "front"), "goat_milk": (Decimal(170), "trace")}
    assert batch.note.splitlines() == [
        "Temperature of the lye: 38.0\u00a0°C.", "Temperature of the fats: 38.0\u00a0°C.", "In the mould: the long one",
        "Put aside: freezer",
    ]  # fmt: skip
    assert Run.objects.within(world.workshop).get(pk=run.pk).batch == batch
    row = Pour.objects.within(world.workshop).get(pk=pour.pk)
    assert (row.state, row.batch) == ("finished", batch)


def test_lye_is_meant_by_the_lot_that_is_taken(bench: Bench) -> None:
    pour = bench.begin()
    bench.go_on(pour, until="naoh")
    slot = bench.table(pour).lines["naoh"].slot
    strong = lot_with(bench.world, bench.lye, ("Purity", "100"))
    # 142.085 g pure: 143.5 g of 99 %, 142.0 g of 100 %, each in whole steps and never more.
    assert bench.table(pour).lye_left_g(slot) == Decimal("143.5")
    assert bench.table(pour).lye_left_g(slot, strong) == Decimal("142.0")
    with pytest.raises(Conflict) as asked:
        bench.weigh(pour, "naoh", "143.5", lot=strong)
    assert asked.value.code == "off_target"
    assert bench.weigh(pour, "naoh", "142.0", lot=strong).target_g == Decimal("142.0")


def test_lye_follows_the_fats_as_they_were_weighed(bench: Bench) -> None:
    pour = bench.begin()
    bench.say(pour, "caution")
    bench.weigh(pour, "0", "650", stands=True)
    # 50 g x 190 / 56106 x 39.997 x 0.95 / 0.99 = 6.50 g less.
    assert bench.table(pour).lines["naoh"].target_g == Decimal("137.0")


def test_a_weight_that_is_off_is_asked_about_and_may_stand(bench: Bench) -> None:
    pour = bench.begin()
    bench.say(pour, "caution")
    bench.weigh(pour, "0", "700.1")
    with pytest.raises(Conflict) as asked:
        bench.weigh(pour, "1", "280")
    assert asked.value.code == "off_target"
    assert "280 g of Coconut oil is 20 g short of the 300 g that are meant." in asked.value.message
    assert not bench.table(pour).lines["1"].is_done
    bench.weigh(pour, "1", "280", is_part=True)
    assert bench.table(pour).lines["1"].target_g == Decimal(20)
    other = lot_with(bench.world, bench.coconut, ("SAP", "258"))
    bench.weigh(pour, "1", "20", lot=other)
    assert bench.table(pour).lines["1"].is_done
    bench.go_on(pour)
    finish(actor=bench.world.actor, pour=pour, at=bench.world.now)
    assert (held(bench.lots["1"]), held(other)) == (Decimal(4720), Decimal(4980))


def test_lye_weighed_wrongly_is_judged_by_the_low_end_and_mended_with_fat(bench: Bench) -> None:
    world, pour = bench.world, bench.begin()
    bench.go_on(pour, until="naoh")
    with pytest.raises(Conflict) as asked:
        bench.weigh(pour, "naoh", "150.5")
    assert asked.value.data["answer"] == Answer.ADD_FAT
    assert "It may be caustic" in asked.value.message
    bench.weigh(pour, "naoh", "150.5", stands=True)
    table = bench.table(pour)
    # The middle is above 0 still; it does not count.
    assert table.found.superfat.of_fats.middle > 0 > table.found.low
    assert table.wants_fat
    with pytest.raises(Conflict, match="may be caustic"):
        bench.say(pour, "dissolved")
    with pytest.raises(Conflict, match="Stop the pour"):
        finish(actor=world.actor, pour=pour, at=world.now)
    remedy = next(one for one in table.found.remedies if table.slot_of(one).key == "0")
    with pytest.raises(Conflict):
        bench.weigh(pour, "0", Decimal(str(remedy.add_g)) - 1, is_mend=True)
    bench.weigh(pour, "0", str(remedy.add_g), is_mend=True)
    assert bench.table(pour).found.answer is Answer.SAFE
    bench.go_on(pour)
    batch = finish(actor=world.actor, pour=pour, at=world.now)
    assert batch.fats_g == 1000 + Decimal(str(remedy.add_g))
    assert batch.superfat_low >= 0
    assert not batch.needs_check
    assert "Stands: 150.5 g of Sodium hydroxide" in batch.note
    assert not BatchHold.objects.within(world.workshop).exists()


def test_after_trace_nothing_is_mended_and_the_batch_is_held(bench: Bench) -> None:
    world, run = bench.world, planned(bench)
    pour = bench.begin(run)
    bench.go_on(pour, until="mould")
    with pytest.raises(Conflict, match="nothing of them is weighed any more"):
        bench.weigh(pour, "0", "30", stands=True)
    weighed = next(row for row in bench.table(pour).steps if row.slot == "naoh")
    # Told otherwise after trace: though these figures would be safe, nobody knows.
    bench.weigh(pour, "naoh", "143.4", corrects=weighed.pk)
    assert bench.table(pour).must_stop
    with pytest.raises(Conflict, match="doubted"):
        bench.say(pour, "mould")
    with pytest.raises(Conflict):
        finish(actor=world.actor, pour=pour, at=world.now)
    stop(actor=world.actor, pour=pour, stopped=Stopped("weighed twice, differently"), at=world.now)
    batch = Batch.objects.within(world.workshop).get()
    assert [(one.cause, one.reason) for one in BatchHold.objects.within(world.workshop).standing()] == [
        ("The pour was stopped after lye and fats had met", "weighed twice, differently")
    ]
    assert batch.lye_g == Decimal("143.4")
    assert held(bench.lots["naoh"]) == Decimal("4856.6")
    row = Run.objects.within(world.workshop).get(pk=run.pk)
    assert (row.state, row.batch) == ("poured", batch)


def test_a_doubt_stops(bench: Bench) -> None:
    pour = bench.begin()
    bench.go_on(pour, until="dissolved")
    bench.say(pour, "doubt", words="it smells odd")
    with pytest.raises(Conflict, match="doubted"):
        bench.say(pour, "dissolved")


def test_the_wrong_lye_stops_and_can_be_weighed_anew_before_trace(bench: Bench) -> None:
    pour = bench.begin()
    bench.go_on(pour, until="naoh")
    koh = lot_with(bench.world, bench.world.material("Potassium hydroxide", kind="lye"), ("Purity", "90"))
    with pytest.raises(Conflict) as asked:
        bench.weigh(pour, "naoh", lot=koh)
    assert asked.value.code == "other_material"
    wrong = bench.weigh(pour, "naoh", "157.8", lot=koh, stands=True)
    assert bench.table(pour).must_stop
    bench.say(pour, "unsaid", corrects=wrong.pk, words="put back, never in the jug")
    bench.go_on(pour)
    batch = finish(actor=bench.world.actor, pour=pour, at=bench.world.now)
    assert (batch.lye_g, held(koh)) == (Decimal("143.5"), Decimal(5000))


def test_stopped_before_they_met_the_run_stays_and_what_was_spoilt_is_written_off(bench: Bench) -> None:
    world, run = bench.world, planned(bench)
    pour = bench.begin(run)
    bench.go_on(pour, until="dissolved")
    lye = next(row for row in bench.table(pour).steps if row.slot == "naoh")
    stop(actor=world.actor, pour=pour, stopped=Stopped("grains that would not go", spoilt=[lye.pk]), at=world.now)
    assert held(bench.lots["naoh"]) == Decimal("4856.5")
    assert held(bench.lots["0"]) == Decimal(5000)
    moved = Movement.objects.within(world.workshop).filter(kind="write_off").get()
    assert moved.reason == "Weighed for a pour that was stopped: grains that would not go"
    assert Run.objects.within(world.workshop).get(pk=run.pk).state == "planned"
    assert not Batch.objects.within(world.workshop).exists()
    # And it can be poured again.
    bench.go_on(bench.begin(run))


def test_stopped_before_they_met_it_may_be_put_into_a_batch(bench: Bench) -> None:
    world, run = bench.world, planned(bench)
    pour = bench.begin(run)
    bench.go_on(pour, until="naoh")
    with pytest.raises(Conflict, match="Say first what was weighed of Sodium hydroxide"):
        stop(actor=world.actor, pour=pour, stopped=Stopped("spilt", into_batch=True), at=world.now)
    bench.go_on(pour, until="dissolved")
    stop(actor=world.actor, pour=pour, stopped=Stopped("spilt", into_batch=True), at=world.now)
    assert BatchHold.objects.within(world.workshop).standing().count() == 1
    assert Run.objects.within(world.workshop).get(pk=run.pk).state == "planned"


def test_a_step_sent_twice_is_there_once(bench: Bench) -> None:
    pour, key = bench.begin(), uuid.uuid4()
    bench.say(pour, "caution")
    first = bench.weigh(pour, "0", "700", client_id=key)
    again = bench.weigh(pour, "0", "700", client_id=key)
    assert first.pk == again.pk
    assert PourStep.objects.within(bench.world.workshop).filter(slot="0").count() == 1
    other = bench.begin()
    with pytest.raises(Conflict, match="another pour"):
        bench.weigh(other, "0", "700", client_id=key)


def test_a_step_that_is_sent_again_after_the_end_is_answered_with_its_row(bench: Bench) -> None:
    pour, key = bench.begin(), uuid.uuid4()
    bench.go_on(pour, until="place")
    first = bench.say(pour, "place", client_id=key)
    finish(actor=bench.world.actor, pour=pour, at=bench.world.now)
    assert bench.say(pour, "place", client_id=key).pk == first.pk
    with pytest.raises(Conflict) as over:
        bench.say(pour, "note", words="late")
    assert over.value.code == "pour_over"


def test_a_correction_stands_in_place_of_what_it_corrects(bench: Bench) -> None:
    pour = bench.begin()
    bench.say(pour, "caution")
    row = bench.weigh(pour, "0", "690", stands=True)
    bench.weigh(pour, "0", "700", corrects=row.pk)
    assert bench.table(pour).lines["0"].weighed_g == Decimal(700)
    with pytest.raises(NotHere):
        bench.weigh(pour, "0", "701", corrects=row.pk)
    with pytest.raises(Invalid):
        bench.say(pour, "note", words="not one", corrects=bench.table(pour).rows(bench.table(pour).lines["0"].slot)[0].pk)


def test_more_than_is_booked_is_found_at_the_pour_and_a_lot_out_of_order_holds(bench: Bench) -> None:
    world = bench.world
    bench.lots["0"] = lot_with(world, bench.olive, ("SAP", "190"), on_hand="500")
    old = world.now.date() - timedelta(days=1)
    bench.lots["1"] = lot_with(world, bench.coconut, ("SAP", "256"), best_before=old)
    pour = bench.begin()
    bench.say(pour, "caution")
    with pytest.raises(Invalid, match="say why it is used all the same"):
        bench.weigh(pour, "1", "300")
    bench.weigh(pour, "1", "300", words="smells fresh")
    bench.go_on(pour)
    batch = finish(actor=world.actor, pour=pour, at=world.now)
    assert held(bench.lots["0"]) == 0
    assert BatchUse.objects.within(world.workshop).filter(batch=batch).count() == 3
    assert [one.reason for one in BatchHold.objects.within(world.workshop).standing()] == ["smells fresh"]


def test_a_run_is_poured_once_at_a_time(bench: Bench) -> None:
    run = planned(bench)
    pour = bench.begin(run)
    with pytest.raises(Conflict) as taken:
        bench.begin(run)
    assert (taken.value.code, taken.value.data["pour"]) == ("pour_open", pour.pk)
    # A pour without a run is in nobody's way.
    bench.begin()


def test_the_second_who_finishes_is_told_who_did_and_when(bench: Bench) -> None:
    pour = bench.begin()
    bench.go_on(pour)
    finish(actor=bench.world.actor, pour=pour, at=bench.world.now)
    with pytest.raises(Conflict) as over:
        finish(actor=bench.world.actor, pour=pour, at=bench.world.now + timedelta(minutes=3))
    assert over.value.code == "pour_over"
    assert "finished this pour (" in over.value.message
    assert "Meadow bar 1" in over.value.message
    assert Batch.objects.within(bench.world.workshop).count() == 1


def test_what_is_missing_is_named(bench: Bench) -> None:
    pour = bench.begin()
    with pytest.raises(Conflict, match="Read the cautions first"):
        bench.weigh(pour, "0", "700")
    bench.go_on(pour, until="naoh")
    with pytest.raises(Conflict, match="Sodium hydroxide"):
        finish(actor=bench.world.actor, pour=pour, at=bench.world.now)
    with pytest.raises(Conflict, match="Not weighed yet: Sodium hydroxide"):
        bench.say(pour, "dissolved")
    bench.go_on(pour, until="trace")
    with pytest.raises(Conflict, match="come to trace"):
        bench.say(pour, "mould")


def test_a_temperature_outside_of_its_band_is_asked_about(bench: Bench) -> None:
    pour = bench.begin()
    bench.go_on(pour, until="lye_temp")
    with pytest.raises(Conflict, match="common practice, no source"):
        bench.say(pour, "lye_temp", celsius=Decimal(71))
    assert bench.say(pour, "lye_temp", celsius=Decimal(71), stands=True).celsius == Decimal(71)
    # Not measured is said too.
    bench.say(pour, "fats_temp")
    assert bench.table(pour).next == "trace"


def test_a_formula_that_may_not_weigh_out_lye_begins_no_pour(world: World) -> None:
    bench = Bench(world)
    odd = lot_with(world, bench.lye, ("Purity", "60"), best_before=world.now.date() + timedelta(days=1))
    assert odd.best_before
    with pytest.raises(DomainError) as refused:
        begin(actor=world.actor, version=bench.version, fats_g=Decimal(1000), at=world.now)
    assert refused.value.code == "no_lye"


def test_a_formula_changed_meanwhile_takes_no_pour_away(bench: Bench) -> None:
    pour = bench.begin()
    bench.go_on(pour)
    world = bench.world
    written = write_version(actor=world.actor, formula=bench.version.formula, entry=kept(bench.version).entry, at=world.now)
    assert written.number == 2
    assert finish(actor=world.actor, pour=pour, at=world.now).version == bench.version


def test_trace_said_by_mistake_is_taken_back_only_while_nothing_was_said_since(bench: Bench) -> None:
    pour = bench.begin()
    bench.go_on(pour, until="stirred")
    trace = bench.table(pour).said(Kind.TRACE)
    bench.say(pour, "unsaid", corrects=trace.pk, words="touched by mistake")
    assert bench.table(pour).next == "trace"
    trace = bench.say(pour, "trace")
    bench.say(pour, "stirred")
    with pytest.raises(Conflict, match="More was said since trace"):
        bench.say(pour, "unsaid", corrects=trace.pk, words="touched by mistake")
