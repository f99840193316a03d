"""Entering a batch in a minute, and what it says to what cannot be right."""

import uuid
from datetime import UTC, datetime
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from curehouse.curing.models import Cure, Occupancy, SampleBar
from curehouse.making.models import Batch, BatchLiquid
from curehouse.workshops.services import change_preferences
from tests.web.bench_typing import NOT_CUT, POURED, USUAL, enter, liquids, nothing_was_written
from tests.web.on_round import set_clock
from tests.web.reading_pages import words_of
from tests.world import World

# (420 + 0.8703 · 220) / (2000 + 283.5 + 640): goat's milk holds 87.03 g of water in 100 g (USDA SR, NDB 1106).
WATER_SHARE = Decimal("0.2092")


@pytest.fixture
def maker(client: Client, world: World, monkeypatch: pytest.MonkeyPatch) -> Client:
    set_clock(monkeypatch, world.now)
    client.force_login(world.owner)
    return client


def the_batch(world: World) -> Batch:
    return Batch.objects.within(world.workshop).select_related("formula").get()


def test_a_cut_batch_is_entered_with_one_form(maker: Client, world: World) -> None:
    position = world.position(world.rack())
    answer = enter(maker, position=str(position.pk), note="Poured a little cooler.")
    batch = the_batch(world)
    assert answer.url == reverse("web:batch", args=[batch.pk])
    assert (str(batch), batch.state, batch.bars_cut, batch.bars_left) == ("Goat & oat 1", "curing", 24, 24)
    assert batch.poured_at == datetime(2026, 3, 8, 9, 0, tzinfo=UTC)
    assert batch.cut_at == datetime(2026, 3, 9, 9, 30, tzinfo=UTC)
    assert (batch.fats_g, batch.lye_g, batch.note) == (2000, Decimal("283.5"), "Poured a little cooler.")
    assert (batch.water_share_computed, batch.water_share_stated) == (WATER_SHARE, None)
    assert batch.by_user == world.owner
    letters = SampleBar.objects.within(world.workshop).filter(batch=batch).values_list("letter", flat=True)
    assert sorted(letters) == ["A", "B", "C"]
    assert Occupancy.objects.within(world.workshop).get(batch=batch, position=position).bars == 24
    assert str(Cure.objects.within(world.workshop).get(batch=batch).due_on) == "2026-03-09"
    assert "Goat & oat 1 is in the cure. Mark bars A to C and weigh them now." in words_of(maker.get(answer.url))


def test_a_batch_that_is_not_cut_waits_without_bars(maker: Client, world: World) -> None:
    enter(maker, **{**NOT_CUT, "bars": "many", "cut_at": "tomorrow"})
    batch = the_batch(world)
    assert (batch.state, batch.cut_at, batch.bars_cut) == ("poured", None, 0)
    assert not SampleBar.objects.within(world.workshop).exists()


def test_a_batch_without_a_place_says_so(maker: Client, world: World) -> None:
    assert "It has no place on a rack yet." in words_of(maker.get(enter(maker).url))


def test_ounces_are_read_as_ounces(maker: Client, world: World) -> None:
    change_preferences(workshop=world.workshop, changes={"unit": "oz"})
    enter(maker, fats_g="70,5", lye_g="10", **liquids(("water", "15", "front", "")))
    # One ounce is 28.349523125 g by definition (NIST Handbook 44, Appendix C).
    assert the_batch(world).fats_g == Decimal("1998.641")


def test_a_water_part_of_one_s_own_beats_the_table_and_a_stated_share_beats_the_sum(maker: Client, world: World) -> None:
    rows = liquids(("water", "420", "front", ""), ("goat_milk", "220", "trace", "86,0"))
    enter(maker, water_share_stated="22,5", **rows)
    milk = BatchLiquid.objects.within(world.workshop).get(kind="goat_milk")
    assert (milk.water_fraction, milk.place) == (Decimal("0.86"), "trace")
    batch = the_batch(world)
    # (420 + 0.86 · 220) / 2923.5
    assert (batch.water_share_computed, batch.water_share_stated) == (Decimal("0.2084"), Decimal("0.225"))


@pytest.mark.parametrize(
    ("changes", "remedy"),
    [
        ({"formula_name": " "}, "The formula's name is missing: type a name."),
        ({"formula_name": "f" * 121}, "The formula's name has 121 characters: keep it to 120."),
        ({"poured_at": ""}, "The pour is missing: choose a day and a time."),
        ({"poured_at": "last Tuesday"}, "The pour is not a day and a time: choose both, like 2026-03-10 09:05."),
        ({"poured_at": "0001-01-01T00:00"}, "The pour is not a day and a time: choose both, like 2026-03-10 09:05."),
        ({"poured_at": "2026-03-12T09:00"}, "The pour lies in the future: enter a batch once it is poured."),
        ({"cut_at": ""}, "The cut is missing: choose a day and a time, or say that it is not cut yet."),
        ({"cut_at": "2026-03-12T09:00"}, "The cut lies in the future"),
        ({"cut_at": "2026-03-07T09:00"}, "The cut comes before the pour: check both times."),
        ({"is_cut": "maybe"}, "Choose whether the batch is cut."),
        ({"is_cut": ""}, "The cut is missing: choose whether it is cut."),
        ({"fats_g": ""}, "The mass of fats is missing: type it in figures."),
        ({"fats_g": "two kilos"}, "The mass of fats reads “two kilos”: type figures with one point or comma, like 118.6."),
        ({"fats_g": "2,000.0"}, "The mass of fats reads “2,000.0”: type figures with one point or comma, like 118.6."),
        ({"fats_g": "-5"}, "The mass of fats must be more than 0 g."),
        ({"lye_g": "0"}, "The mass of lye must be more than 0 g."),
        ({"lye_g": "2835"}, "More lye than fats: check both weights before anyone touches this batch."),
        ({"bars": ""}, "The number of bars is missing: type a whole number."),
        ({"bars": "0"}, "The number of bars is a whole number from 1 to 5000: check the figure."),
        ({"bars": "24.5"}, "The number of bars is a whole number from 1 to 5000: check the figure."),
        ({"sample_bars": ""}, "The number of sample bars is missing: type one, 3 to 5 are usual."),
        ({"sample_bars": "13"}, "The number of sample bars is a whole number from 1 to 12: check the figure."),
        ({"bars": "2", "sample_bars": "3"}, "Mark between 1 and 2 sample bars (3 to 5 are usual)."),
        ({"position": "999999"}, "This place is not in the workshop: choose one from the list."),
        ({"when_full": "burst"}, "Raise the place's capacity, or put the rest elsewhere: choose one."),
        ({"water_share_stated": "75"}, "The water share lies above 0 and goes up to 60: check the figure."),
        ({"note": "n" * 4001}, "The note is too long: keep it to 4000 characters."),
        (liquids(("water", "", "front", "")), "The mass of water is missing: type it, or choose “none”."),
        (liquids(("", "420", "front", "")), "Say which liquid this is: choose one, or empty its row."),
        (liquids(("mercury", "420", "front", "")), "This liquid is not in the list: choose one."),
        (liquids(("water", "lots", "front", "")), "The liquid's mass reads “lots”: type figures"),
        (liquids(("goat_milk", "420", "front", "870")), "The water part is 0 or more, and at most"),
        (liquids(("water", "420", "behind", "")), "A liquid goes in with the lye or at trace: choose one."),
        (liquids(("", "", "front", "")), "Name at least one liquid with its grams, or state the water share yourself."),
        (liquids(("water", "9000", "front", "")), "water: check their grams against the fats."),
        ({"liquids-TOTAL_FORMS": "x"}, "This page is incomplete: open it anew and type the liquids again."),
        ({"liquids-INITIAL_FORMS": ""}, "This page is incomplete: open it anew and type the liquids again."),
    ],
)
def test_a_wrong_entry_is_answered_with_its_remedy_kept_as_typed_and_not_written(
    maker: Client, world: World, changes: dict[str, str], remedy: str
) -> None:
    answer = enter(maker, **changes)
    assert answer.status_code == 200
    assert remedy in words_of(answer)
    assert nothing_was_written(world)
    page = answer.content.decode()
    assert "Hidden field" not in page
    assert "Enter a whole number" not in page
    if "lye_g" not in changes:
        assert 'value="283,5"' in page
    if "formula_name" not in changes:
        assert 'value="Goat &amp; oat"' in page
    if "liquids-TOTAL_FORMS" not in changes:
        assert '<option value="goat_milk" selected>' in page


def test_a_form_sent_twice_enters_one_batch(maker: Client, world: World) -> None:
    key = str(uuid.uuid4())
    first, second = enter(maker, key=key), enter(maker, key=key)
    assert first.url == second.url
    assert Batch.objects.within(world.workshop).count() == 1


def test_a_form_sent_again_with_other_content_is_shown_as_typed_and_not_written(maker: Client, world: World) -> None:
    key = str(uuid.uuid4())
    enter(maker, key=key)
    answer = enter(maker, key=key, fats_g="1999")
    assert "This form was sent before with other content" in words_of(answer)
    assert 'value="1999"' in answer.content.decode()
    assert Batch.objects.within(world.workshop).count() == 1


def test_another_liquid_adds_a_row_and_keeps_what_was_typed_however_unfinished(maker: Client, world: World) -> None:
    answer = enter(maker, more="1", fats_g="two ki", formula_name="")
    page = answer.content.decode()
    assert 'name="liquids-3-kind"' in page
    assert 'value="two ki"' in page
    assert 'name="liquids-1-mass_g" value="220"' in page
    assert "is missing" not in words_of(answer)
    assert nothing_was_written(world)


def test_the_rows_of_liquids_end_at_twelve(maker: Client) -> None:
    page = enter(maker, more="1", **liquids(*[("water", "10", "front", "")] * 12)).content.decode()
    assert 'name="liquids-11-kind"' in page
    assert 'name="liquids-12-kind"' not in page
    assert "Another liquid" not in page


def test_the_water_share_is_shown_while_typing_as_the_house_computes_it(maker: Client, world: World) -> None:
    share = maker.post(reverse("web:water_share"), {"fats_g": "2000", "lye_g": "283,5", **USUAL})
    assert words_of(share) == "Water is 20.9 % of the fresh bar."
    for unfinished in ({}, {"fats_g": "2000", "lye_g": "", **USUAL}, {"fats_g": "x", "lye_g": "1", **USUAL}):
        assert "shows here once fats, lye and a liquid are typed" in words_of(
            maker.post(reverse("web:water_share"), unfinished)
        )
    flooded = maker.post(reverse("web:water_share"), {**POURED, **liquids(("water", "9000", "front", ""))})
    assert "more than a bar can hold" in words_of(flooded)
    assert nothing_was_written(world)


def test_the_cautions_of_lye_stand_where_lye_is_entered(maker: Client) -> None:
    words = words_of(maker.get(reverse("web:batch_new")))
    after_lye = words[words.index("Lye (NaOH), g") :]
    for caution in (
        "goggles, gloves, long sleeves",
        "Never pour liquid onto lye",
        "at least 15 minutes",
        "Never vinegar",
        "poison centre",
    ):
        assert caution in after_lye


def test_the_entry_page_takes_the_same_queries_whatever_stands_on_the_racks(maker: Client, world: World) -> None:
    def count() -> int:
        with CaptureQueriesContext(connection) as captured:
            maker.get(reverse("web:batch_new"))
        return len(captured)

    world.batch(position=world.position(world.rack("First")))
    few = count()
    # Session, person, membership, open notices; positions with racks, formulas, the last of each formula.
    assert few == 7
    for number in range(6):
        world.batch(formula_name=f"Formula {number}", position=world.position(world.rack(f"Rack {number}")))
    assert count() == few
