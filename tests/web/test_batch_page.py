"""A batch's page: the verdict in sentences, the weighings as a record, what went in."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.urls import reverse

from curehouse.core.chemistry.words import CAUTIONS
from curehouse.curing.models import Cure, Reading
from curehouse.flows.assess import assess_all_this_morning
from curehouse.flows.take_out import take_out
from curehouse.flows.weigh import correct, keep, strike
from curehouse.making.models import Batch
from curehouse.making.services import TakeOutEntry
from curehouse.web.reading.racks import water_left
from tests.web.on_round import set_clock, text_of
from tests.web.visitor import Visitor, assess, doubtful_batch, dry_batch, ready_batch, soft_batch
from tests.world import World


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    set_clock(monkeypatch, world.now)
    return Visitor(world)


def _newest(world: World, batch: Batch, letter: str = "A") -> Reading:
    rows = Reading.objects.within(world.workshop).select_related("bar__batch__formula")
    return rows.filter(bar__batch=batch, bar__letter=letter).newest_first().first()


def test_the_page_says_how_the_batch_stands_and_what_to_do(visitor: Visitor, world: World) -> None:
    batch = dry_batch(world)
    page = visitor.get("batch", batch.pk)
    html, words = page.content.decode(), text_of(page)
    assert "◇ check due" in words
    assert "Cut Mon 2 Feb, day 36 since. Poured Sun 1 Feb." in words
    # (120.4 - 120.1) / 120.1 = 0.2498 %; (130.0 - 120.1) / 130.0 = 7.6 %.
    assert "<strong>0.25\u00a0%</strong> a week" in html
    assert "weekly loss 0.25 % total loss 7.6 %" in words
    assert "Do the safety check by your own written limit" in words
    assert "As of Mon 9 Mar." in words


@pytest.mark.parametrize(
    ("make", "act"),
    [(dry_batch, "Enter its check"), (ready_batch, "Take bars out"), (soft_batch, "Weigh now")],
    ids=["check due", "ready", "too soft"],
)
def test_the_main_act_is_the_one_the_state_asks_for(
    visitor: Visitor, world: World, make: Callable[..., Batch], act: str
) -> None:
    html = visitor.get("batch", make(world).pk).content.decode()
    main = html.split('class="button"')[1].split("</a>")[0]
    assert main.endswith(f">{act}")


def test_weighing_is_offered_until_every_bar_was_weighed_today(visitor: Visitor, world: World) -> None:
    batch = soft_batch(world)
    for letter in "AB":
        world.weigh(world.bar(batch, letter), "113.9", moment=world.now)
    assert ">Weigh now</a>" in visitor.get("batch", batch.pk).content.decode()
    world.weigh(world.bar(batch, "C"), "113.9", moment=world.now)
    assert "Weigh now" not in visitor.words("batch", batch.pk)


def test_a_batch_not_weighed_for_a_fortnight_says_which_weighings_its_figures_are_from(visitor: Visitor, world: World) -> None:
    batch = world.batch(cut_days_ago=36)
    world.weigh_series(batch, {0: "130.0", 7: "124.0", 14: "122.0"})
    assess_all_this_morning(workshop=world.workshop, at=world.now)
    words = visitor.words("batch", batch.pk)
    assert "◌ not weighed" in words
    assert "Not weighed since day 14, 22 days ago." in words
    assert "From the weighings up to Mon 16 Feb." in words
    assert "As of" not in words


def test_a_verdict_of_this_morning_says_which_weighings_its_figures_are_from(visitor: Visitor, world: World) -> None:
    batch = world.batch(cut_days_ago=24)
    world.weigh_series(batch, {0: "130.0", 7: "124.0", 14: "122.0", 21: "121.0"})
    assess_all_this_morning(workshop=world.workshop, at=world.now)
    words = visitor.words("batch", batch.pk)
    assert "From the weighings up to " in words
    assert "As of" not in words
    # (122.0 - 121.0) / 121.0 = 0.826 %, known on day 21 and told on day 24.
    assert "Losing 0.83 % a week as of day 21; dry enough at 0.75 % or less." in words


def test_a_batch_first_weighed_late_claims_no_water_and_says_from_when_its_loss_counts(visitor: Visitor, world: World) -> None:
    batch = world.batch(cut_days_ago=36)
    world.weigh_series(batch, {35: "110.0"})
    assess(world, batch)
    words = visitor.words("batch", batch.pk)
    assert "total loss 0 % since its first weighing on day 35 water left not known" in words
    assert "No bar was weighed at the cut: the water left is not known" in words
    # The bars of the racks and of the round draw a dashed line for it.
    assert water_left(Cure.objects.within(world.workshop).select_related("assessment").get(batch=batch)) is None


def test_the_verdict_of_a_batch_that_is_gone_speaks_of_the_past(visitor: Visitor, world: World) -> None:
    batch = ready_batch(world)
    entry = TakeOutEntry(bars=24, purpose="sale", taken_at=world.now, forced_reason="")
    take_out(actor=world.actor, batch=batch, entry=entry, at=world.now)
    words = visitor.words("batch", batch.pk)
    assert "It lost 0.25 % in its last week; 0.75 % or less was dry enough." in words
    assert "It came to day 36; it was old enough from day 28." in words
    assert "Its safety check was passed." in words
    assert "Its last verdict, of Tue 10 Mar: ready." in words
    assert "Losing" not in words


def test_a_batch_being_looked_at_says_so_and_asks_again(visitor: Visitor, world: World) -> None:
    batch = dry_batch(world)
    world.weigh(world.bar(batch), "120.0", moment=world.now)
    waiting = visitor.get("batch", batch.pk).content.decode()
    assert "Being looked at" in waiting
    assert f'hx-get="{reverse("web:batch_verdict", args=[batch.pk])}?looks=1"' in waiting
    assess(world, batch)
    assert "Being looked at" not in visitor.get("batch", batch.pk).content.decode()


def test_the_verdict_alone_brings_its_tag_along_and_stops_asking_once_it_is_there(visitor: Visitor, world: World) -> None:
    batch = dry_batch(world)
    world.weigh(world.bar(batch), "120.0", moment=world.now)
    waiting = visitor.get("batch_verdict", batch.pk, query="?looks=1").content.decode()
    assert "?looks=2" in waiting
    assess(world, batch)
    there = visitor.get("batch_verdict", batch.pk, query="?looks=2").content.decode()
    assert 'hx-swap-oob="true"' in there
    assert "hx-get" not in there
    assert "<html" not in there


def test_a_page_left_lying_open_stops_asking_and_names_the_worker(visitor: Visitor, world: World) -> None:
    batch = dry_batch(world)
    Cure.objects.within(world.workshop).update(assess_wanted_at=world.now)
    tired = visitor.get("batch_verdict", batch.pk, query="?looks=19").content.decode()
    assert "hx-get" not in tired
    assert "worker is running" in tired


def test_weighings_stand_round_by_round_with_the_newest_first(visitor: Visitor, world: World) -> None:
    batch = world.batch(cut_days_ago=9)
    for letter, weight in zip("ABC", ("130.0", "131.5", "129.25"), strict=True):
        world.weigh(world.bar(batch, letter), weight, moment=world.days_ago(8.9))
    for letter, weight in zip("AC", ("126.0", "125.5"), strict=True):
        world.weigh(world.bar(batch, letter), weight, moment=world.days_ago(2), firmness="gives")
    words = visitor.words("batch", batch.pk)
    newest = "Sun 8 Mar day 7 126.0 125.5 Kitchen scale, 0.1 g A gives · C gives"
    oldest = "Sun 1 Mar day 0 130.0 131.5 129.25 Kitchen scale, 0.1 g"
    assert words.index(newest) < words.index(oldest)


def test_a_weight_in_doubt_is_crossed_named_and_asked_about(visitor: Visitor, world: World) -> None:
    batch = doubtful_batch(world)
    asked = _newest(world, batch)
    html = visitor.get("batch", batch.pk).content.decode()
    assert '<del class="doubtful">102.1</del>' in html
    assert "Digits swapped?" in html
    assert "bar A, 102.1: digits?" in html
    assert ">Keep 102.1 g<" in html
    # The question is the screen's main act; weighing steps back.
    assert 'class="button second" href="/round/' in html
    assert f">Take {asked.doubt_guess_g:.1f} g<" in html
    assert reverse("web:reading_take", args=[asked.pk]) in html
    assert reverse("web:reading_correct", args=[asked.pk]) in html


def test_keeping_and_taking_from_the_page_settle_the_question(visitor: Visitor, world: World) -> None:
    batch = doubtful_batch(world)
    visitor.post("reading_keep", _newest(world, batch, "A").pk)
    visitor.post("reading_take", _newest(world, batch, "B").pk, client_id="4c2b1c6e-7c43-4b4e-8a55-2f0a3c1f9b11")
    words = visitor.words("batch", batch.pk)
    assert "A, Mon 9 Mar: 102.1 g kept as it is by Ottilie Brandt, Tue 10 Mar" in words
    assert "B, Mon 9 Mar: 102.1 g corrected to 120.1 g by Ottilie Brandt, Tue 10 Mar" in words
    # The forecast hears what the verdict goes without: nothing is said to be left out of all.
    assert words.count("The verdict goes without it until you say what it is; the forecast hears it,") == 1
    assert words.count("left out") == words.count("left out of the ")


def test_what_was_said_of_a_weight_stays_on_the_page(visitor: Visitor, world: World) -> None:
    batch = dry_batch(world)
    strike(actor=world.actor, reading=_newest(world, batch, "A"), reason="wrong batch", at=world.now)
    entry = world.reading_entry("120.0", moment=_newest(world, batch, "B").moment)
    correct(actor=world.actor, reading=_newest(world, batch, "B"), entry=entry, at=world.now)
    keep(actor=world.actor, reading=_newest(world, batch, "C"), at=world.now)
    words = visitor.words("batch", batch.pk)
    assert "A, Mon 9 Mar: 120.1 g struck out by Ottilie Brandt, Tue 10 Mar: wrong batch" in words
    assert "B, Mon 9 Mar: 120.1 g corrected to 120.0 g by Ottilie Brandt" in words
    assert "C, Mon 9 Mar: 120.1 g kept as it is" in words


def test_the_cautions_stand_where_the_lye_of_a_batch_is_shown(visitor: Visitor, world: World) -> None:
    words = visitor.words("batch", dry_batch(world).pk)
    assert CAUTIONS[0] in words[words.index("What went in") :]


def test_the_page_says_what_went_in_and_how_much_of_it_is_water(visitor: Visitor, world: World) -> None:
    batch = world.batch()
    words = visitor.words("batch", batch.pk)
    assert "Fats 2000 g" in words
    assert "Lye 283.5 g" in words
    assert "Water in front, with the lye; 100 % water 420 g" in words
    assert "at trace; 87 % water 220 g" in words
    assert f"{100 * batch.water_share_computed:.1f} % of the fresh bar is water, computed from what went in." in words


def test_ounces_are_shown_where_the_workshop_weighs_in_ounces(monkeypatch: pytest.MonkeyPatch, db: None) -> None:
    world = World(unit="oz")
    set_clock(monkeypatch, world.now)
    batch = world.batch(cut_days_ago=1)
    # NIST Handbook 44, Appendix C: 1 oz av = 28.349523125 g, so 118.6 g are 4.183 oz: a tenth of a gram is a step of 0.0035 oz.
    world.weigh(world.bar(batch), "118.6", moment=world.days_ago(0.5))
    words = Visitor(world).words("batch", batch.pk)
    assert "In oz." in words
    assert "day 0 4.183 Kitchen scale, 0.0035 oz" in words


def test_a_batch_in_the_mould_leads_to_its_cut(visitor: Visitor, world: World) -> None:
    batch = world.batch(cut_days_ago=None, poured_at=world.days_ago(1))
    page = visitor.get("batch", batch.pk).content.decode()
    assert reverse("web:batch_cut", args=[batch.pk]) in page
    assert "Weigh now" not in page
    assert "Poured Mon 9 Mar, yesterday; not cut yet." in page


def test_a_closed_batch_can_still_be_read(visitor: Visitor, world: World) -> None:
    batch = ready_batch(world)
    entry = TakeOutEntry(24, "sale", world.now)
    take_out(actor=world.actor, batch=batch, entry=entry, at=world.now)
    words = visitor.words("batch", batch.pk)
    assert "– closed" in words
    assert "24 bars to sell Tue 10 Mar, 10:00, Ottilie Brandt" in words
    assert "None of its 24 bars is left; its weighing has ended." in words
    assert "Weigh now" not in words
    assert "Mon 9 Mar day 35 120.1" in words


def test_a_batch_takes_as_many_queries_for_twenty_weighings_as_for_two(visitor: Visitor, world: World) -> None:
    place = world.position(world.rack())
    batch = world.batch(position=place, sample_bars=2)
    for letter in "AB":
        world.weigh(world.bar(batch, letter), "130.0", moment=batch.cut_at + timedelta(hours=1))
    few = visitor.queries("batch", batch.pk)
    for day in range(7, 28, 2):
        for letter in "AB":
            world.weigh(world.bar(batch, letter), f"{126 - day / 7:.1f}", moment=batch.cut_at + timedelta(days=day))
    assess(world, batch)
    # Session, person, membership, batch, sample bars, weighings, reviews, places, cure, history and its length,
    # checks, taken out, liquids, what it took from the storeroom, what holds it, what was seen at
    # its cut, when its bars were turned; the count in the title.
    assert visitor.queries("batch", batch.pk) == few == 19


def test_the_verdict_alone_takes_few_queries(visitor: Visitor, world: World) -> None:
    assert visitor.queries("batch_verdict", dry_batch(world).pk) == 5
