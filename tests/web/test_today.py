"""Today: what needs a hand, in the order in which it does."""

from datetime import timedelta

import pytest
from django.urls import reverse

from curehouse.curing.models import Cure, Reading
from curehouse.flows.morning import begin_day
from curehouse.flows.stock_notices import renew_stock
from curehouse.notices.kinds import Kind
from curehouse.notices.models import Delivery, Notice
from curehouse.notices.services import see_to, see_to_all, tell
from tests.web.on_round import set_clock
from tests.web.visitor import Visitor, doubtful_batch, dry_batch, each_place, pass_or_fail, ready_batch, soft_batch
from tests.world import World


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    set_clock(monkeypatch, world.now)
    return Visitor(world)


def _in_order(words: str, *parts: str) -> bool:
    places = [words.index(part) for part in parts]
    return places == sorted(places)


def test_an_empty_workshop_is_told_to_put_up_a_rack_and_then_to_enter_a_batch(visitor: Visitor, world: World) -> None:
    page = visitor.get("today")
    assert f'<a class="button wide act-below" href="{reverse("web:rack_new")}">' in page.content.decode()
    world.rack()
    page = visitor.get("today")
    assert f'<a class="button wide act-below" href="{reverse("web:batch_new")}">' in page.content.decode()
    world.batch()
    assert "Begin here" not in visitor.words("today")


def test_today_offers_the_round_when_bars_are_due(visitor: Visitor, world: World) -> None:
    world.batch(sample_bars=3)
    world.batch(sample_bars=4)
    words = visitor.words("today")
    assert "7 bars of 2 batches, about 3 min" in words
    assert "Start the round" in words


def test_today_goes_on_with_a_round_that_was_begun(visitor: Visitor, world: World) -> None:
    batch = world.batch(sample_bars=3)
    world.weigh(world.bar(batch, "A"), "118.0", moment=world.now)
    words = visitor.words("today")
    assert "2 bars of 1 batch, about 1 min" in words
    assert "Go on with the round" in words


def test_today_names_the_next_round_when_nothing_is_due(visitor: Visitor, world: World) -> None:
    dry_batch(world)
    # Weighed on Monday 9 March; the round is walked on Tuesdays, at least five days later.
    assert "Nothing to weigh today. Next round: Tue 17 Mar." in visitor.words("today")


def test_today_sorts_batches_by_what_needs_a_hand_first(visitor: Visitor, world: World) -> None:
    ready_batch(world, formula_name="Ready one")
    dry_batch(world, formula_name="Dry one")
    soft_batch(world, formula_name="Soft one")
    doubtful_batch(world, formula_name="Doubtful one")
    world.batch(cut_days_ago=3, formula_name="Young one")
    words = visitor.words("today").split("Look at")[1].split("Without a place")[0]
    assert _in_order(words, "Doubtful one 4", "Ready one 1", "Dry one 2", "Soft one 3")
    assert "Young one" not in words
    for said in ("? look again", "■ too soft", "◇ check due", "✓ ready", "24 bars", "no check yet"):
        assert said in words


def test_nothing_asks_for_you_is_said_only_where_nothing_does(visitor: Visitor, world: World) -> None:
    ready_batch(world, formula_name="Ready one")
    see_to(actor=world.actor, notice=Notice.objects.within(world.workshop).open().get(), at=world.now)
    words = visitor.words("today")
    assert "Ready one 1 24 bars have no place" in words
    assert "Nothing asks for you" not in words


def test_today_puts_aside_what_was_seen_to(visitor: Visitor, world: World) -> None:
    ready_batch(world, formula_name="Ready one", position=world.position(world.rack()))
    notice = Notice.objects.within(world.workshop).open().get()
    assert "1 more, seen to" not in visitor.words("today")
    see_to(actor=world.actor, notice=notice, at=world.now)
    words = visitor.words("today")
    assert "Nothing asks for you" in words
    assert "1 more, seen to" in words


def test_a_failed_check_stands_in_one_row_until_it_is_seen_to(visitor: Visitor, world: World) -> None:
    pass_or_fail(world, dry_batch(world, formula_name="Dry one"), passed=False)
    young = world.batch(cut_days_ago=3, formula_name="Young one")
    words = visitor.words("today").split("Look at")[1]
    assert words.count("check failed") == 1 and "▲ check failed dry enough" in words
    pass_or_fail(world, young, passed=False)
    words = visitor.words("today").split("Look at")[1]
    assert words.count("check failed") == 2 and "▲ check failed curing" in words
    for notice in Notice.objects.within(world.workshop).open():
        see_to(actor=world.actor, notice=notice, at=world.now)
    words = visitor.words("today")
    assert "Look at" not in words
    assert "2 more, seen to" in words


def test_a_batch_nobody_weighed_is_looked_at_though_no_notice_says_so(visitor: Visitor, world: World) -> None:
    batch = world.batch(cut_days_ago=40, formula_name="Forgotten one")
    world.weigh_series(batch, {0: "130.0"})
    Cure.objects.within(world.workshop).filter(batch=batch).update(state="not_weighed")
    words = visitor.words("today")
    assert "◌ not weighed since Thu 29 Jan" in words


def test_today_names_bars_without_a_place_and_leads_to_placing_them(visitor: Visitor, world: World) -> None:
    rack = world.rack(capacity=24)
    world.batch(formula_name="Placed one", position=world.position(rack))
    loose = world.batch(formula_name="Loose one")
    page = visitor.get("today").content.decode()
    assert "24 bars have no place" in page
    assert reverse("web:batch_place", args=[loose.pk]) in page
    assert "Placed one" not in page


def test_today_offers_to_cut_what_is_in_the_mould(visitor: Visitor, world: World) -> None:
    batch = world.batch(cut_days_ago=None, formula_name="Wet one", poured_at=world.days_ago(2))
    page = visitor.get("today").content.decode()
    assert reverse("web:batch_cut", args=[batch.pk]) in page
    assert "day 2 in the mould" in page


def test_today_says_once_that_no_mail_is_set_up(visitor: Visitor, world: World, settings: object) -> None:
    ready_batch(world)
    ready_batch(world)
    assert visitor.words("today").count("No mail is set up") == 1
    settings.EMAIL_URL = "smtp://mail.example:25"
    assert "No mail is set up" not in visitor.words("today")


@pytest.mark.parametrize(
    ("state", "said"), [("failed", "not sent"), ("twice", "sent, perhaps twice"), ("unknown", "perhaps sent")]
)
def test_today_says_which_mail_went_wrong(visitor: Visitor, world: World, state: str, said: str) -> None:
    ready_batch(world)
    notice = Notice.objects.within(world.workshop).open().get()
    Delivery.objects.within(world.workshop).filter(notice=notice).update(state=state, ended_at=world.now)
    assert f"e-mail to Ottilie Brandt {said}" in visitor.words("today")
    see_to(actor=world.actor, notice=notice, at=world.now)
    assert said not in visitor.words("today")


def test_the_title_counts_the_open_notices(visitor: Visitor, world: World) -> None:
    assert "<title>Today" in visitor.get("today").content.decode()
    ready_batch(world)
    dry_batch(world)
    assert "<title>(2) Today" in visitor.get("today").content.decode()


def test_today_takes_as_many_queries_for_twenty_batches_as_for_two(visitor: Visitor, world: World) -> None:
    place = each_place(world)
    ready_batch(world, position=place())
    world.batch(cut_days_ago=2)
    few = visitor.queries("today")
    for _ in range(6):
        ready_batch(world, position=place())
        world.batch(cut_days_ago=2)
        world.batch(cut_days_ago=None)
    # Session, person, membership, cures, places, notices, poured, the round (2), orders that wait, what is put off, what was
    # called off, mail, racks; the count in the title. The names of what waits would be one more.
    assert visitor.queries("today") == few == 16


def test_today_reads_nothing_of_another_workshop(visitor: Visitor, stranger: World) -> None:
    ready_batch(stranger, formula_name="Next door")
    assert "Next door" not in visitor.words("today")


def test_today_says_which_weights_wait_for_an_answer_and_leads_there(visitor: Visitor, world: World) -> None:
    assert "waiting for your answer" not in visitor.words("today")
    batch = doubtful_batch(world)
    assert "3 weights are waiting for your answer : Goat & oat 1." in visitor.words("today")
    page = visitor.get("today").content.decode()
    assert f'href="{reverse("web:batch", args=[batch.pk])}#asked"' in page
    assert 'id="asked"' in visitor.get("batch", batch.pk).content.decode()
    for reading in Reading.objects.within(world.workshop).filter(bar__batch=batch).exclude(doubt=""):
        assert "waiting for your answer" in visitor.words("today")
        visitor.post("reading_keep", reading.pk)
    assert "waiting for your answer" not in visitor.words("today")


def test_all_that_is_to_be_weighed_is_one_thing_in_the_title(visitor: Visitor, world: World) -> None:
    ready_batch(world)
    for number in range(3):
        about = f"batch:{number}"
        said = {"mark": "", "title": "Weigh", "body": "Due.", "path": "/", "at": world.now}
        tell(workshop=world.workshop, kind=Kind.WEIGH, about=about, key=f"weigh:{number}", **said)
    assert "<title>(2) Today" in visitor.get("today").content.decode()


def test_what_the_storeroom_wants_stands_apart_and_folds_over_a_few(visitor: Visitor, world: World) -> None:
    for number in range(8):
        world.lot("900", material=world.material(f"Oil {number}"), best_before=world.now.date() + timedelta(days=2))
    world.lot("900", material=world.material("Palm-free wax"), best_before=world.now.date() - timedelta(days=2))
    begin_day(workshop_id=world.workshop.pk, at=world.now)
    page = visitor.get("today")
    text, today = page.content.decode(), page.context["today"]
    assert [row.name for row in today.stock.first] == [
        "Palm-free wax, lot 9 has expired", *(f"Oil {number}, lot {number + 1} expires soon" for number in range(4)),
    ]  # fmt: skip
    assert today.stock.first[0].note == "900 g left, best before Sun 8 Mar."
    assert "4 more in the storeroom" in text
    assert today.look_at == ()
    assert {visitor.client.get(row.url).status_code for row in (*today.stock.first, *today.stock.more)} == {200}


def test_six_things_of_the_storeroom_are_not_folded_and_no_look_is_called_quiet(visitor: Visitor, world: World) -> None:
    dry_batch(world)
    see_to_all(actor=world.actor, notices=list(Notice.objects.within(world.workshop).open()), at=world.now)
    for number in range(6):
        world.lot(material=world.material(f"Oil {number}"), best_before=world.now.date())
    renew_stock(workshop=world.workshop, at=world.now, tells_new=True)
    page = visitor.get("today")
    assert "more in the storeroom" not in page.content.decode()
    assert len(page.context["today"].stock.first) == 6
    assert "Nothing asks for you" not in page.content.decode()


def test_what_is_foretold_stands_apart_from_what_is_measured(visitor: Visitor, world: World) -> None:
    soft_batch(world, formula_name="Soft one")
    batch = world.batch(formula_name="Early one")
    for kind, title in ((Kind.READY_SOON, "is likely ready within a week"), (Kind.SOFT_LIKELY, "may stay too soft")):
        tell(
            workshop=world.workshop, key=f"{kind}:batch:{batch.pk}", kind=kind, about=f"batch:{batch.pk}", mark=kind,
            title=f"{batch} {title}", body="About 6 of 10 such batches do.\nMore.", path=f"/batches/{batch.pk}/", at=world.now,
        )  # fmt: skip
    words = visitor.words("today")
    assert _in_order(words, "Look at", "Soft one", "Foretold", "Early one 2 may stay", "6 of 10", "likely ready within a week")
