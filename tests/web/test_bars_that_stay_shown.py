"""Wherever something is said of bars to come, what keeps them in the house is said first."""

import pytest

from curehouse.curing.models import Cure, LabelWeight
from curehouse.curing.services.labels import keep_label
from curehouse.flows.foretell import foretell_wanting
from curehouse.making.models import Batch
from curehouse.making.services import hold_batch, lock_batch
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.hands import in_hand_order
from tests.curing.test_labels import asked
from tests.flows.test_foretell import cured
from tests.web.on_round import set_clock, text_of
from tests.web.test_label_page import hidden
from tests.web.visitor import Visitor, doubtful_batch, each_place, pass_or_fail, soft_batch
from tests.world import World

pytestmark = pytest.mark.django_db

FAILED = "The last safety check failed, so these bars go to nobody: test again after a week or more, rework or destroy them."


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    set_clock(monkeypatch, world.now)
    return Visitor(world)


def foretold(world: World, **changes: object) -> Batch:
    batch = cured(world, days_ago=21, last=14, **changes)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    return batch


def hold(world: World, batch: Batch) -> None:
    hold_batch(actor=world.actor, batch=lock_batch(batch), cause="oil smells off", reason="by nose", at=world.now)


def fail(world: World, batch: Batch) -> None:
    pass_or_fail(world, batch, passed=False)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)


def test_ready_is_said_of_a_batch_once_its_check_is_passed_and_dry_enough_before(world: World, visitor: Visitor) -> None:
    batch = foretold(world)
    words = visitor.words("batch", batch.pk)
    assert "dry enough, 8 in 10" in words and "ready, 8 in 10" not in words
    assert "Ready then once its safety check is passed." in words
    pass_or_fail(world, batch, passed=True)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    words = visitor.words("batch", batch.pk)
    assert "ready, 8 in 10" in words and "once its safety check is passed" not in words


@pytest.mark.parametrize("stop", [fail, hold])
def test_the_batchs_page_says_it_before_the_window_and_the_label(world: World, visitor: Visitor, stop: object) -> None:
    batch = foretold(world)
    keep_label(actor=world.actor, batch=batch, asked=asked(batch), at=world.now)
    stop(world, batch)
    words = visitor.words("batch", batch.pk)
    said = FAILED if stop is fail else f"{batch} is held: oil smells off."
    assert words.index(said) < words.index("dry enough, 8 in 10") < words.index("on its label")
    assert "ready, 8 in 10" not in words
    assert "Ready then once" not in words
    assert "Its label weight, worked out anew" not in words


@pytest.mark.parametrize("stop", [fail, hold])
def test_the_labels_page_says_it_first_and_offers_nothing_to_keep(world: World, visitor: Visitor, stop: object) -> None:
    batch = foretold(world)
    sent = hidden(visitor.get("batch_label", batch.pk).content.decode())
    stop(world, batch)
    page = visitor.get("batch_label", batch.pk)
    words = text_of(page)
    said = FAILED if stop is fail else f"{batch} is held: oil smells off."
    assert words.index(said) < words.index("The largest net weight that does")
    assert "as its label</button>" not in page.content.decode()
    # What was shown before stands in a window still.
    answer = visitor.post("batch_label", batch.pk, **sent)
    assert answer.status_code == 200
    assert ("go to nobody" if stop is fail else "Lift the hold") in text_of(answer)
    assert not LabelWeight.objects.within(world.workshop).exists()


def test_a_label_of_a_batch_measured_too_soft_is_worked_out_and_it_is_said_first(world: World, visitor: Visitor) -> None:
    batch = soft_batch(world)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    words = visitor.words("batch_label", batch.pk)
    assert words.index("is too soft as measured") < words.index("The largest net weight that does")


def test_a_failed_check_needs_a_hand_before_all_else_on_today_and_the_racks(world: World, visitor: Visitor) -> None:
    place = each_place(world)
    doubtful_batch(world, formula_name="Doubtful one", position=place())
    failed = foretold(world, formula_name="Failed one", position=place())
    fail(world, failed)
    cures = Cure.objects.within(world.workshop).going_on().with_forecast().with_obstacles()
    names = [cure.batch.formula.name for cure in in_hand_order(cures, Calendar(world.workshop, world.now))]
    assert names == ["Failed one", "Doubtful one"]
    today = visitor.words("today").split("Look at")[1]
    assert today.index("Failed one") < today.index("Doubtful one")
    assert today.count("Failed one 2") == 1 and "▲ check failed" in today
    racks = visitor.words("racks").split("What needs a hand first")[1]
    assert racks.index("Failed one") < racks.index("Doubtful one")


@pytest.mark.parametrize(("stop", "mark"), [(fail, "▲ check failed"), (hold, "‖ held")])
def test_the_racks_mark_it_and_promise_no_place(world: World, visitor: Visitor, stop: object, mark: str) -> None:
    batch = foretold(world, position=each_place(world)())
    stop(world, batch)
    page = visitor.get("racks").content.decode()
    assert f">{mark}</text>" in page
    words = text_of(visitor.get("racks"))
    listed = words.split("What needs a hand first")[1]
    assert listed.index(mark) < listed.index("dry enough ")
    ahead = visitor.words("racks", query="?ahead=80")
    assert f"stays: {mark[2:]}" in ahead
    assert "Ready next" not in visitor.words("today")


def test_a_batch_that_may_be_caustic_is_marked_so_until_its_check_is_passed(world: World, visitor: Visitor) -> None:
    batch = foretold(world, position=each_place(world)())
    Batch.objects.within(world.workshop).filter(pk=batch.pk).update(needs_check=True)
    assert ">◬ may be caustic</text>" in visitor.get("racks").content.decode()
    assert "may be caustic by the lots it took: pass its safety check before bars leave" in visitor.words("batch", batch.pk)
    pass_or_fail(world, batch, passed=True)
    assert ">◬ may be caustic</text>" not in visitor.get("racks").content.decode()
