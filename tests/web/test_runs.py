"""The pages of runs: checked, planned, moved, called off, and begun as a batch."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from curehouse.flows.check_run import hold_run
from curehouse.making.formulas.entries import LineEntry, Role
from curehouse.making.models import Batch, FormulaVersion, Reservation, Run
from curehouse.making.services.formulas import write_formula
from curehouse.making.services.runs import plan_run
from inventory.models import Order
from inventory.services.orders import promise, send_order, write_order
from tests.flows.test_lye_in_water import Dissolving
from tests.formulas import LIQUIDS, fat, formula_entry
from tests.web.bench_typing import NOT_CUT, enter
from tests.web.on_round import text_of
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    monkeypatch.setattr("django.utils.timezone.now", lambda: world.now)
    return Visitor(world)


@pytest.fixture
def version(world: World) -> FormulaVersion:
    olive, lye = world.material("Olive oil", kind="fat"), world.material("Sodium hydroxide", kind="lye")
    lines = (fat("olive", "700", material=olive), fat("coconut", "300"), *LIQUIDS)
    world.lot("5000", material=lye)
    return write_formula(actor=world.actor, entry=formula_entry(lines=lines, naoh_from=lye), at=world.now)


def day(world: World, days: int) -> str:
    return (world.now.date() + timedelta(days=days)).isoformat()


def ask(world: World, days: int = 10, fats_g: str = "2000") -> str:
    return f"?fats_g={fats_g}&pour_on={day(world, days)}"


def planned(world: World, version: FormulaVersion, days: int = 10, fats_g: int = 2000) -> Run:
    on = world.now.date() + timedelta(days=days)
    return plan_run(actor=world.actor, version=version, fats_g=Decimal(fats_g), pour_on=on, at=world.now)


def test_a_check_says_what_is_short_what_to_do_and_when_it_can_be_poured(
    world: World, visitor: Visitor, version: FormulaVersion
) -> None:
    lot = world.lot("1000")
    words = visitor.words("version_run", version.pk, query=ask(world))
    assert "1 material is short on" in words
    assert "takes 1400.0 g; 1000 g here: 1000 g free" in words
    assert f"From lot {lot.number} (best before" in words
    assert "): 1000.0 g" in words
    assert "400.0 g more are needed. How long a delivery takes is not known" in words
    assert "coconut oil, 600.0 g: not kept in the storeroom" in words
    assert "With what is here and on its way Likely not within four months, safely not within four months" in words
    world.offer(lead_days=5)
    words = visitor.words("version_run", version.pk, query=ask(world, 30))
    assert "Order 400.0 g or more by" in words
    assert not Run.objects.within(world.workshop).exists(), "a check keeps nothing"


def test_a_run_that_was_checked_is_planned_with_one_press(world: World, visitor: Visitor, version: FormulaVersion) -> None:
    world.lot("9000")
    page = visitor.get("version_run", version.pk, query=ask(world))
    assert b"Everything that is kept in the storeroom is there on" in page.content
    answer = visitor.post("version_run", version.pk, fats_g="2000", pour_on=day(world, 10), note="For the fair.")
    run = Run.objects.within(world.workshop).get()
    assert answer["Location"] == reverse("web:run", args=[run.pk])
    assert (run.fats_g, run.note, run.announced_on) == (2000, "For the fair.", world.now.date())
    assert Reservation.objects.within(world.workshop).filter(run=run).count() == 2
    words = visitor.words("run", run.pk)
    assert "enough" in words
    assert "Ottilie Brandt for Fri 20 Mar, 2000.0 g of oils, by version 1" in words


def test_short_it_is_planned_all_the_same_and_the_list_says_what_is_short(
    world: World, visitor: Visitor, version: FormulaVersion
) -> None:
    visitor.post("version_run", version.pk, fats_g="2000", pour_on=day(world, 10), note="")
    words = visitor.words("runs")
    assert "short: Olive oil" in words
    run = Run.objects.within(world.workshop).get()
    assert "Look what to order now" in visitor.words("run", run.pk)
    world.offer(lead_days=9)
    answer = visitor.post("orders_propose")
    assert answer["Location"] == reverse("web:orders")
    assert "Olive oil" in visitor.words("order", Order.objects.within(world.workshop).written().get().pk)
    assert "1400.0 g more are needed" in visitor.words("run", Run.objects.within(world.workshop).get().pk)


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"fats_g": "", "pour_on": "2026-03-20"}, "The weight of the oils is missing"),
        ({"fats_g": "1,500", "pour_on": "2026-03-20"}, "reads two ways"),
        ({"fats_g": "2000", "pour_on": "2026-03-01"}, "This day is past: choose today or later"),
        ({"fats_g": "2000", "pour_on": "tomorrow"}, "is not a day: choose one"),
    ],
)
def test_what_cannot_be_is_answered_beside_its_field(world: World, visitor: Visitor, version, sent, said: str) -> None:
    query = f"?fats_g={sent['fats_g']}&pour_on={sent['pour_on']}"
    assert said in visitor.words("version_run", version.pk, query=query)
    answer = visitor.post("version_run", version.pk, **sent)
    assert answer.status_code == 200
    assert not Run.objects.within(world.workshop).exists()


def test_it_is_moved_and_called_off_with_who_and_why(world: World, visitor: Visitor, version: FormulaVersion) -> None:
    run = planned(world, version)
    visitor.post("run_move", run.pk, pour_on=day(world, 17), why="the milk comes later")
    words = visitor.words("run", run.pk)
    assert "from Fri 20 Mar to Fri 27 Mar: the milk comes later" in words
    assert visitor.post("run_call_off", run.pk, why="").status_code == 200
    visitor.post("run_call_off", run.pk, why="no market that week")
    words = visitor.words("run", run.pk)
    assert "called off" in words
    assert "no market that week" in words
    assert "What is there for it" not in words
    assert "No run is planned" in visitor.words("runs")


@pytest.mark.parametrize("page", ["run_move", "run_call_off"])
def test_a_run_that_is_over_is_offered_no_form_and_says_what_became_of_it(
    world: World, visitor: Visitor, version: FormulaVersion, page: str
) -> None:
    run = planned(world, version)
    assert "<form" in visitor.get(page, run.pk).content.decode()
    visitor.post("run_call_off", run.pk, why="no market that week")
    answers = [visitor.get(page, run.pk), visitor.post(page, run.pk, pour_on=day(world, 17), why="after all")]
    if page == "run_move":
        answers.append(visitor.get(page, run.pk, query=f"?pour_on={day(world, 17)}"))
    for answer in answers:
        said = text_of(answer)
        assert "This run was called off Tue 10 Mar, 10:00, by Ottilie Brandt: no market that week." in said
        assert "<form" not in answer.content.decode().partition("<main")[2]
        assert reverse("web:version_run", args=[version.pk]) in answer.content.decode()
    assert "is called off already" in text_of(answers[1])
    assert "moved from" not in visitor.words("run", run.pk)


@pytest.mark.parametrize("page", ["run_move", "run_call_off"])
def test_a_run_that_was_poured_leads_to_its_batch(world: World, visitor: Visitor, version: FormulaVersion, page: str) -> None:
    run = planned(world, version)
    batch = world.batch(formula_name=run.formula.name, cut_days_ago=2)
    visitor.post("run_pour", run.pk, batch=str(batch.pk))
    answer = visitor.get(page, run.pk)
    assert "This run was poured" in text_of(answer)
    assert reverse("web:batch", args=[batch.pk]) in answer.content.decode()


def test_before_it_is_moved_its_page_says_what_is_there_on_the_new_day_and_who_would_lack_it(
    world: World, visitor: Visitor, version: FormulaVersion
) -> None:
    world.lot("1400", best_before=world.now.date() + timedelta(days=12))
    run, later = planned(world, version, days=20), planned(world, version, days=5, fats_g=1000)
    words = visitor.words("run_move", run.pk, query=f"?pour_on={day(world, 10)}")
    assert "What is there on Fri 20 Mar ⊕ enough" in words
    assert "would lack what it takes there: Goat's milk on Sun 15 Mar: 700.0 g of Olive oil" in words.replace("&#x27;", "'")
    words = visitor.words("run_move", later.pk, query=f"?pour_on={day(world, 6)}")
    assert "⊕ enough" in words, "what is reserved for it already is not held against it"
    assert "would lack" not in words
    assert "This day is past" in visitor.words("run_move", run.pk, query="?pour_on=2026-03-01")


def test_what_is_short_is_told_as_much_as_makes_it_safe_and_what_waits_could_be_released(
    world: World, visitor: Visitor, version: FormulaVersion
) -> None:
    offer = world.offer(lead_days=5, pack=Decimal(600))
    order = write_order(actor=world.actor, supplier=offer.supplier, packs={offer.pk: 1}, at=world.now)
    send_order(actor=world.actor, order=order, sent_on=world.days_ago(18).date(), at=world.now)
    promise(actor=world.actor, order=order, promised_on=world.days_ago(-29).date(), at=world.now)
    lot = world.lot("9000", standing="quarantine")
    checked = visitor.words("version_run", version.pk, query=ask(world, 30, "1000"))
    for words in (checked, visitor.words("run", planned(world, version, days=30, fats_g=1000).pk)):
        assert "Order 700.0 g or more by" in words
        assert "If what is on its way comes on its likely day, 100.0 g are enough." in words
        assert f"Or release what waits in quarantine: lot {lot.number} (9000 g)." in words


def test_a_batch_that_is_begun_from_a_run_is_what_became_of_it(world: World, visitor: Visitor, version: FormulaVersion) -> None:
    run = planned(world, version, days=0, fats_g=1000)
    begun = visitor.get("batch_new", query=f"?version={version.pk}&fats_g=1000&run={run.pk}").context["form"]
    sent = {name: begun[name].value() for name in ("formula_name", "version", "run", "fats_g", "lye_g")}
    assert sent["run"] == str(run.pk)
    answer = enter(visitor.client, **sent, **NOT_CUT)
    assert answer.status_code == 302, answer.context["form"].errors
    run.refresh_from_db()
    assert (run.state, run.batch) == (Run.State.POURED, Batch.objects.within(world.workshop).get())
    assert "The batch that came of it" in visitor.words("run", run.pk)


def test_who_enters_a_batch_of_a_formula_is_offered_its_planned_runs(world: World, visitor: Visitor, version) -> None:
    run = planned(world, version, days=3, fats_g=1000)
    page = visitor.get("batch_new", query=f"?version={version.pk}&fats_g=1000").context["form"]
    assert list(page.fields["run"].widget.choices) == [("", "none of these"), (str(run.pk), "Fri 13 Mar, 1000.0 g of oils")]


def test_a_batch_that_was_entered_without_its_run_is_named_at_the_run(world: World, visitor: Visitor, version) -> None:
    run = planned(world, version, days=0, fats_g=1000)
    begun = visitor.get("batch_new", query=f"?version={version.pk}&fats_g=1000").context["form"]
    sent = {name: begun[name].value() for name in ("formula_name", "version", "fats_g", "lye_g")}
    assert enter(visitor.client, **sent, **NOT_CUT).status_code == 302
    batch = Batch.objects.within(world.workshop).get()
    assert str(batch) in visitor.words("run", run.pk).replace("&#x27;", "'")
    assert "Choose a batch from the list" in visitor.post("run_pour", run.pk, batch="987654").content.decode()
    visitor.post("run_pour", run.pk, batch=str(batch.pk))
    run.refresh_from_db()
    assert (run.state, run.batch) == (Run.State.POURED, batch)
    assert visitor.post("run_pour", run.pk, batch=str(batch.pk)).status_code == 409


def test_what_was_poured_is_recorded_though_its_run_was_called_off_meanwhile(
    world: World, visitor: Visitor, version: FormulaVersion
) -> None:
    run = planned(world, version, days=0, fats_g=1000)
    begun = visitor.get("batch_new", query=f"?version={version.pk}&fats_g=1000&run={run.pk}").context["form"]
    sent = {name: begun[name].value() for name in ("formula_name", "version", "run", "fats_g", "lye_g")}
    visitor.post("run_call_off", run.pk, why="no milk, it was said")
    assert enter(visitor.client, **sent, **NOT_CUT).status_code == 302
    run.refresh_from_db()
    assert (run.state, run.batch) == (Run.State.CALLED_OFF, None)


def test_a_run_of_another_workshop_begins_no_batch_here(visitor: Visitor) -> None:
    there = World("Quince Court Soaps", email="hollis@quincecourt.example")
    version = write_formula(actor=there.actor, entry=formula_entry(), at=there.now)
    run = planned(there, version)
    assert visitor.get("batch_new", query=f"?run={run.pk}").status_code == 404


def wide_house(world: World, *, runs: int) -> FormulaVersion:
    """Return a formula of twelve materials with 500 lots among them, and so many other runs of it."""
    fats = [world.material(f"Fat {number}", kind="fat") for number in range(10)]
    additive, lye = world.material("Clay", kind="additive"), world.material("Sodium hydroxide", kind="lye")
    lines = (
        *(fat("olive", "100", material=one) for one in fats),
        *LIQUIDS,
        LineEntry(Role.ADDITIVE, material=additive, amount=Decimal(5)),
    )
    version = write_formula(actor=world.actor, entry=formula_entry(lines=lines, naoh_from=lye), at=world.now)
    for number in range(500):
        world.lot("700", material=[*fats, additive, lye][number % 12])
    for number in range(runs):
        planned(world, version, days=number % 60, fats_g=1000)
    return version


def queries_of(visitor: Visitor, name: str, *args: int, query: str = "") -> int:
    with CaptureQueriesContext(connection) as captured:
        assert visitor.get(name, *args, query=query).status_code == 200
    return len(captured)


def test_a_run_beside_forty_others_takes_as_few_queries_as_beside_four(world: World, visitor: Visitor) -> None:
    version = wide_house(world, runs=4)
    beside_four = queries_of(visitor, "version_run", version.pk, query=ask(world))
    list_of_four = queries_of(visitor, "runs")
    for number in range(36):
        planned(world, version, days=number % 60, fats_g=1000)
    assert queries_of(visitor, "version_run", version.pk, query=ask(world)) == beside_four
    assert queries_of(visitor, "runs") == list_of_four
    with CaptureQueriesContext(connection) as captured:
        hold_run(version=version, fats_g=Decimal(2000), pour_on=world.now.date(), at=world.now)
    assert len(captured) <= 10, "the storeroom's part of it"


def test_lye_that_is_dissolved_beforehand_costs_a_check_four_queries(world: World, visitor: Visitor) -> None:
    """Three say how strong it is; one reads its lots, for they are of another material."""
    bench = Dissolving(world)
    version = bench.soap()
    how = {"version": version, "fats_g": Decimal(500), "pour_on": world.now.date(), "at": world.now}
    with CaptureQueriesContext(connection) as written:
        hold_run(**how)
    bench.dissolve("300", "300")
    with CaptureQueriesContext(connection) as dissolved:
        held = hold_run(**how)
    assert held.dry_in, "it is what the run is promised"
    assert len(dissolved) <= len(written) + 3
    assert len(written) <= 11
