"""The page of a pour: one step a screen, by the rows, on any device, and without a script."""

import re
import uuid
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.http import HttpResponse

from curehouse.flows.pour import finish
from curehouse.flows.runs import plan_run
from curehouse.making.models import Batch, BatchHold, Pour, PourStep, Run
from curehouse.workshops.models import AuditEntry
from inventory.models import Lot
from tests.pouring import Bench, lot_with
from tests.web.on_round import text_of
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    monkeypatch.setattr("django.utils.timezone.now", lambda: world.now)
    return Visitor(world)


@pytest.fixture
def bench(world: World) -> Bench:
    return Bench(world)


def step(visitor: Visitor, pour: Pour, key: str, **fields: Any) -> HttpResponse:
    return visitor.post("pour", pour.pk, **{"step": key, "step_id": str(uuid.uuid4()), **fields})


def pour_of(bench: Bench) -> Pour:
    return Pour.objects.within(bench.world.workshop).order_by("-pk")[0]


def test_from_the_run_to_the_batch_by_forms_alone(bench: Bench, visitor: Visitor) -> None:
    day = bench.world.now.date() + timedelta(days=1)
    run = plan_run(actor=bench.world.actor, version=bench.version, fats_g=Decimal(1000), pour_on=day, at=bench.world.now)
    assert "Pour it now" in visitor.words("run", run.pk)
    begun = visitor.post("version_pour", bench.version.pk, fats_g="1000", run=f"{run.pk}")
    pour = pour_of(bench)
    assert begun.url == f"/pours/{pour.pk}/"
    assert "Go on with its pour" in visitor.words("run", run.pk)
    assert "At the table now" in visitor.words("bench")
    words = visitor.words("pour", pour.pk)
    assert "1 of 13" in words
    assert "First aid" not in words or "running water" in words
    # Nothing goes on unticked.
    assert "Tick it once it is so" in text_of(step(visitor, pour, "caution"))
    assert step(visitor, pour, "caution", ticked="1").status_code == 302
    for key, amount in (("0", "700"), ("1", "300"), ("2", "150"), ("3", "170"), ("naoh", "143.5")):
        words = visitor.words("pour", pour.pk)
        assert f"{amount} g" in words
        sent = step(visitor, pour, key, amount=amount, lot=bench.lots[key].pk if key in bench.lots else "")
        assert sent.status_code == 302, text_of(sent)
    for key, fields in (
        ("dissolved", {}), ("lye_temp", {"celsius": "33"}), ("fats_temp", {"celsius": "38.5"}), ("trace", {}),
        ("stirred", {}), ("mould", {"words": "long one"}), ("place", {"words": "In the freezer"}),
    ):  # fmt: skip
        assert step(visitor, pour, key, **fields).status_code == 302
    assert "Every step is done" in visitor.words("pour", pour.pk)
    ended = visitor.post("pour_finish", pour.pk, step="finish", step_id=str(uuid.uuid4()))
    batch = Batch.objects.within(bench.world.workshop).get()
    assert ended.url == f"/batches/{batch.pk}/"
    assert batch.lye_g == Decimal("143.5")
    assert Run.objects.within(bench.world.workshop).get(pk=run.pk).batch == batch
    said = [one.said for one in AuditEntry.objects.within(bench.world.workshop).order_by("pk")]
    assert "Said at the table: Meadow bar" in next(one for one in said if "Olive oil 700 g" in one)
    assert "This pour is over" in visitor.words("pour", pour.pk)


def test_lye_that_is_off_is_asked_about_and_mended(bench: Bench, visitor: Visitor) -> None:
    pour = bench.begin()
    bench.go_on(pour, until="naoh")
    asked = step(visitor, pour, "naoh", amount="150.5", lot=bench.lots["naoh"].pk)
    words = text_of(asked)
    assert "150.5 g of Sodium hydroxide is 7 g over the 143.5 g that are meant" in words
    assert "It may be caustic" in words
    # What was typed is there still, and its answers are buttons.
    assert 'value="150.5"' in asked.content.decode()
    assert "Keep 150.5 g" in words
    assert not PourStep.objects.within(bench.world.workshop).filter(slot="naoh").exists()
    step(visitor, pour, "naoh", amount="150.5", lot=bench.lots["naoh"].pk, answer="stands")
    page = visitor.get("pour", pour.pk)
    words = text_of(page)
    assert "Before trace only" in words
    grams = re.search(r"Add ([\d.]+) g of Olive oil", words)
    assert grams is not None
    assert "superfat at the least 0" in words
    assert "?step=0&amp;mend=1" in page.content.decode()
    assert f"{grams[1]} g" in visitor.words("pour", pour.pk, query="?step=0&mend=1")
    step(visitor, pour, "0", amount=grams[1], lot=bench.lots["0"].pk, mend="1")
    words = visitor.words("pour", pour.pk)
    assert "Safe with these figures" in words
    assert "Lye into the liquid" in words


def test_undissolved_lye_stops_and_the_stop_is_offered(bench: Bench, visitor: Visitor) -> None:
    pour = bench.begin()
    bench.go_on(pour, until="dissolved")
    assert "There is undissolved lye" in visitor.words("pour", pour.pk)
    step(visitor, pour, "doubt", words="Undissolved lye")
    words = visitor.words("pour", pour.pk)
    assert "Stop here. Undissolved lye was seen" in words
    assert "It is at trace" not in words
    lye = PourStep.objects.within(bench.world.workshop).get(slot="naoh")
    visitor.post("pour_stop", pour.pk, why="grains", outcome="apart", spoilt=f"{lye.pk}")
    assert Lot.objects.within(bench.world.workshop).get(pk=bench.lots["naoh"].pk).on_hand == Decimal("4856.5")
    assert Pour.objects.within(bench.world.workshop).get(pk=pour.pk).state == "stopped"


def test_undissolved_lye_that_dissolved_after_all_is_looked_at_again(bench: Bench, visitor: Visitor) -> None:
    pour = bench.begin()
    bench.go_on(pour, until="dissolved")
    step(visitor, pour, "doubt", words="Undissolved lye")
    assert "all of it is dissolved now" in visitor.words("pour", pour.pk)
    assert "?step=dissolved" in visitor.get("pour", pour.pk).content.decode()
    assert step(visitor, pour, "dissolved").status_code == 302
    assert "How warm is the lye?" in visitor.words("pour", pour.pk)


def test_a_line_that_is_done_says_what_was_weighed_of_what_was_meant(bench: Bench, visitor: Visitor) -> None:
    pour = bench.begin()
    bench.go_on(pour, until="dissolved")
    words = visitor.words("pour", pour.pk, query="?step=naoh")
    assert "143.5 g weighed" in words
    assert "143.5 g weighed already, of 143.5 g that were meant" in words
    assert " 0 g" not in words


def test_too_little_water_is_said_before_the_lye_goes_in(bench: Bench, visitor: Visitor) -> None:
    pour = bench.begin()
    bench.go_on(pour, until="2")
    assert "The lye cannot all dissolve" in text_of(step(visitor, pour, "2", amount="100"))
    step(visitor, pour, "2", amount="100", answer="stands")
    bench.go_on(pour, until="naoh")
    assert "The lye cannot all dissolve" in visitor.words("pour", pour.pk)
    bench.go_on(pour, until="dissolved")
    words = text_of(step(visitor, pour, "dissolved"))
    assert "Weigh more of the liquid in front before the lye goes in" in words


def test_stopped_after_trace_its_batch_is_held(bench: Bench, visitor: Visitor) -> None:
    pour = bench.begin()
    bench.go_on(pour, until="mould")
    page = visitor.get("pour_stop", pour.pk).content.decode()
    assert 'value="apart"' not in page
    visitor.post("pour_stop", pour.pk, why="it boiled over", outcome="met")
    assert BatchHold.objects.within(bench.world.workshop).standing().get().reason == "it boiled over"


def test_the_lot_that_expires_first_is_proposed_and_another_asks_for_its_own_lye(bench: Bench, visitor: Visitor) -> None:
    soon = bench.world.now.date() + timedelta(days=9)
    first = lot_with(bench.world, bench.lye, ("Purity", "97"), best_before=soon)
    pour = bench.begin()
    bench.go_on(pour, until="naoh")
    page = visitor.get("pour", pour.pk).content.decode()
    assert f'<option value="{first.pk}" selected>' in page
    assert "146.4 g" in page
    look = step(visitor, pour, "naoh", lot=bench.lots["naoh"].pk, look="1")
    assert f"lot={bench.lots['naoh'].pk}" in look.url
    assert "143.5 g" in text_of(visitor.client.get(look.url))
    # Its number is as good, and one that nobody has is told.
    assert "There is no lot 99999" in text_of(step(visitor, pour, "naoh", amount="143.5", number="99999"))
    assert step(visitor, pour, "naoh", amount="143.5", number=f"{bench.lots['naoh'].number}").status_code == 302
    assert PourStep.objects.within(bench.world.workshop).get(slot="naoh").lot == bench.lots["naoh"]


def test_a_step_is_looked_at_again_corrected_and_taken_back(bench: Bench, visitor: Visitor) -> None:
    pour = bench.begin()
    bench.go_on(pour, until="1")
    row = PourStep.objects.within(bench.world.workshop).get(slot="0")
    assert "700 g of lot" in visitor.words("pour", pour.pk, query="?step=0")
    page = visitor.get("pour", pour.pk, query=f"?step=0&corrects={row.pk}")
    assert "700 g" in text_of(page)
    assert step(visitor, pour, "0", amount="699.9", lot=bench.lots["0"].pk, corrects=row.pk).status_code == 302
    assert bench.table(pour).lines["0"].weighed_g == Decimal("699.9")
    row = PourStep.objects.within(bench.world.workshop).get(corrects=row)
    assert step(visitor, pour, "unsaid", words="another pot", corrects=row.pk).status_code == 302
    assert bench.table(pour).next == "0"


def test_the_same_form_twice_is_one_step(bench: Bench, visitor: Visitor) -> None:
    pour = bench.begin()
    bench.go_on(pour, until="0")
    sent = {"amount": "700", "lot": bench.lots["0"].pk, "step_id": str(uuid.uuid4()), "form_key": str(uuid.uuid4())}
    for _time in range(2):
        assert step(visitor, pour, "0", **sent).status_code == 302
    # And from another device, that sends what a lost answer left open.
    assert step(visitor, pour, "0", **(sent | {"form_key": str(uuid.uuid4())})).status_code == 302
    assert PourStep.objects.within(bench.world.workshop).filter(slot="0").count() == 1


def test_who_comes_late_is_told_who_finished(bench: Bench, visitor: Visitor) -> None:
    pour = bench.begin()
    bench.go_on(pour)
    finish(actor=bench.world.actor, pour=pour, at=bench.world.now)
    words = text_of(visitor.post("pour_finish", pour.pk, step="finish", step_id=str(uuid.uuid4())))
    assert "finished this pour" in words
    assert Batch.objects.within(bench.world.workshop).count() == 1


def test_the_page_takes_as_many_queries_however_much_was_said(bench: Bench, visitor: Visitor) -> None:
    pour = bench.begin()
    bench.go_on(pour, until="0")
    few = visitor.queries("pour", pour.pk)
    for _number in range(12):
        bench.weigh(pour, "0", "50", is_part=True)
    assert visitor.queries("pour", pour.pk) <= few + 4
    assert few <= 24


def test_temperatures_show_their_band_and_an_odd_one_is_asked_about(bench: Bench, visitor: Visitor) -> None:
    pour = bench.begin()
    bench.go_on(pour, until="lye_temp")
    assert "Usually 25 to 50 °C (common practice, no source)" in visitor.words("pour", pour.pk).replace("\u00a0", " ")
    assert "outside of what is usual" in text_of(step(visitor, pour, "lye_temp", celsius="70"))
    assert step(visitor, pour, "lye_temp", celsius="70", answer="stands").status_code == 302


def test_what_was_confirmed_with_the_formula_may_be_poured_and_more_fat_is_offered(world: World, visitor: Visitor) -> None:
    bench = Bench(world, superfat="0.002")
    pour = bench.begin()
    bench.go_on(pour, until="dissolved")
    words = visitor.words("pour", pour.pk)
    assert "No worse than what was confirmed with its formula" in words
    assert "More fat makes it safe" in words
    assert bench.say(pour, "dissolved").kind == "dissolved"
    bench.go_on(pour)
    assert finish(actor=world.actor, pour=pour, at=world.now).needs_check
