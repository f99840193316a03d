"""What people type on the round: commas, slips, the same thing twice, a page gone stale."""

import re
from decimal import Decimal

import pytest

from curehouse.making.models import Batch
from curehouse.workshops.models import Scale
from tests.web.on_round import Walker, bar_url, set_clock, text_of
from tests.world import World

pytestmark = pytest.mark.django_db
KEY = "5f4c0c3a-6a57-4c63-8f0a-0d6a3a3c2b03"


@pytest.fixture(autouse=True)
def _clock(monkeypatch: pytest.MonkeyPatch, world: World) -> None:
    set_clock(monkeypatch, world.now)


@pytest.fixture
def batch(world: World) -> Batch:
    """Return a batch cut this morning: its bars are to be weighed for the first time."""
    return world.batch(cut_days_ago=0.05)


@pytest.fixture
def walker(world: World) -> Walker:
    return Walker(world)


def weights(walker: Walker, batch: Batch, letter: str = "A") -> list[str]:
    return [f"{row.weight_g:.3f}" for row in walker.readings(walker.world.bar(batch, letter))]


@pytest.mark.parametrize("typed", ["131.4", "131,4", " 131,4 ", "+131.4", "131.40", "131.4\u00a0"])
def test_weight_is_read_with_point_or_comma(walker: Walker, batch: Batch, typed: str) -> None:
    walker.type(walker.world.bar(batch), typed)
    assert weights(walker, batch) == ["131.400"]


def test_weight_is_read_in_ounces_where_the_workshop_weighs_in_them() -> None:
    world = World(unit="oz", email="wren@thistlewick.example")
    batch, walker = world.batch(cut_days_ago=0.05), Walker(world)
    answer = walker.type(world.bar(batch), "4,64")
    # 4.64 × 28.349523125 g (NIST Handbook 44, Appendix C), to the milligram.
    assert weights(walker, batch) == ["131.542"]
    assert "A 4.64 oz written." in text_of(walker.client.get(answer.url))
    assert "step 0.0035 oz" in text_of(walker.get(world.bar(batch, "B")))


@pytest.mark.parametrize(("step_g", "places"), [("0.1", 3), ("0.283", 2)])
def test_ounces_have_as_many_decimals_as_the_scale_shows(step_g: str, places: int) -> None:
    world = World(unit="oz", email="wren@thistlewick.example")
    Scale.objects.within(world.workshop).update(step_g=Decimal(step_g))
    batch, walker = world.batch(cut_days_ago=28), Walker(world)
    for day, ounces in {0: "4.59", 7: "4.41", 14: "4.34", 21: "4.29"}.items():
        for letter in "ABC":
            grams = Decimal(ounces) * Decimal("28.349523125")
            world.weigh(world.bar(batch, letter), f"{grams:.3f}", moment=world.days_ago(28 - day), unit="oz", typed=ounces)
    words = text_of(walker.start())
    assert re.search(rf"last week 4\.29 oz · expected 4\.\d{{{places}}}–4\.\d{{{places}}} oz", words), words
    # 0.75 % of this bar is 0.032 oz: thousandths stay what they were typed as.
    typed = "4.263" if places == 3 else "4.26"
    answer = walker.type(world.bar(batch), typed)
    assert f"A {typed} oz written." in text_of(walker.client.get(answer.url))


@pytest.mark.parametrize(
    ("typed", "remedy"),
    [
        ("", "The weight is missing: type it in figures."),
        ("   ", "The weight is missing: type it in figures."),
        ("12,3,4", "The weight reads “12,3,4”: type figures with one point or comma, like 118.6."),
        ("1,234.5", "The weight reads “1,234.5”: type figures with one point or comma, like 118.6."),
        ("abc", "The weight reads “abc”: type figures with one point or comma, like 118.6."),
        ("1e9", "The weight reads “1e9”: type figures with one point or comma, like 118.6."),
        ("-5", "The weight must be more than 0 g."),
        ("0", "The weight must be more than 0 g."),
        ("25000", "The weight must be more than 0 g and at most 20 kg."),
        ("１１８.６", "The weight reads “１１８.６”: type figures with one point or comma, like 118.6."),
        ("١١٨", "The weight reads “١١٨”: type figures with one point or comma, like 118.6."),
        ("½", "The weight reads “½”: type figures with one point or comma, like 118.6."),
    ],
)
def test_weight_that_cannot_be_read_is_asked_for_again_as_it_was_typed(
    walker: Walker, batch: Batch, typed: str, remedy: str
) -> None:
    page = walker.type(walker.world.bar(batch), typed)
    assert remedy in text_of(page)
    assert f'name="weight" value="{typed}"' in page.content.decode()
    assert 'aria-invalid="true"' in page.content.decode()
    assert weights(walker, batch) == []


@pytest.mark.parametrize(
    ("field", "value", "remedy"),
    [
        ("moment", "yesterday", "The moment of this weighing cannot be read: load the page again"),
        ("moment", "2026-03-10T10:00:00", "The moment of this weighing cannot be read: load the page again"),
        ("moment", "2026-03-10T11:00:00+01:00", "The weighing lies in the future: check the clock of the device."),
        ("moment", "2026-03-08T10:00:00+01:00", "a weighing cannot come before it."),
        ("scale", "999", "This scale is not in use any more: choose another."),
        ("client_id", "not-an-id", "This page is incomplete: load it again and type the weight anew."),
        ("seen", "9" * 30, "This page is incomplete: load it again"),
        ("again", "0", "This page is incomplete: load it again"),
        ("again", "second", "This page is incomplete: load it again"),
    ],
)
def test_field_that_cannot_be_right_is_named_and_nothing_written(
    walker: Walker, batch: Batch, field: str, value: str, remedy: str
) -> None:
    assert remedy in text_of(walker.type(walker.world.bar(batch), "131.4", **{field: value}))
    assert weights(walker, batch) == []


def test_weighing_sent_twice_is_written_once_and_answered_alike(walker: Walker, batch: Batch) -> None:
    first, second = (walker.type(walker.world.bar(batch), "131.4", client_id=KEY) for _ in range(2))
    assert first.url == second.url
    assert weights(walker, batch) == ["131.400"]


def test_weighing_without_a_moment_is_written_once_though_sent_twice(
    monkeypatch: pytest.MonkeyPatch, walker: Walker, batch: Batch
) -> None:
    """Without a script the house stamps the moment, so the second sending has another."""
    bar = walker.world.bar(batch)
    first = walker.type(bar, "131.4", client_id=KEY, moment="")
    set_clock(monkeypatch, walker.world.days_ago(-0.0001))
    second = walker.type(bar, "131.4", client_id=KEY, moment="")
    assert first.url == second.url
    assert weights(walker, batch) == ["131.400"]


def test_enter_pressed_twice_leaves_the_next_bar_alone(walker: Walker, batch: Batch) -> None:
    for _ in range(2):
        walker.type(walker.world.bar(batch), "131.4", client_id=KEY)
    assert weights(walker, batch, "B") == []


def test_stale_page_shows_the_weight_written_meanwhile_and_writes_nothing(walker: Walker, batch: Batch) -> None:
    bar = walker.world.bar(batch)
    walker.type(bar, "131.4")
    page = walker.type(bar, "131.9", seen="")
    words = text_of(page)
    assert "Weighed meanwhile: 131.4 g, 10:00, by Ottilie Brandt. What you typed is not written yet." in words
    assert "Keep 131.4 g Change 131.4 g" in words
    assert "Write as a second weighing" in words
    assert 'name="weight" value="131.9"' in page.content.decode()
    assert weights(walker, batch) == ["131.400"]


def test_second_weighing_of_a_day_is_written_by_a_page_that_knows_of_the_first(walker: Walker, batch: Batch) -> None:
    bar = walker.world.bar(batch)
    walker.type(bar, "131.4")
    (first,) = walker.readings(bar)
    words = text_of(walker.get(bar))
    assert "Weighed today: 131.4 g, 10:00, by Ottilie Brandt." in words
    walker.type(bar, "131.3", seen=str(first.pk))
    assert weights(walker, batch) == ["131.400", "131.300"]


def test_used_id_with_another_weight_is_shown_what_it_was_used_for(walker: Walker, batch: Batch) -> None:
    """Back, another figure, Enter: without a script the page still holds the first weighing's id."""
    bar = walker.world.bar(batch)
    walker.type(bar, "131.4", client_id=KEY)
    page = walker.type(bar, "131.9", client_id=KEY)
    assert "Weighed meanwhile: 131.4 g" in text_of(page)
    assert KEY not in page.content.decode()
    assert weights(walker, batch) == ["131.400"]


def test_every_page_of_a_bar_carries_an_id_of_its_own(walker: Walker, batch: Batch) -> None:
    ids = {walker.get(walker.world.bar(batch)).context["client_id"] for _ in range(3)}
    assert len(ids) == 3


def test_weight_of_a_milligram_step_is_shown_as_it_was_typed(walker: Walker, batch: Batch) -> None:
    answer = walker.type(walker.world.bar(batch), "131.455")
    assert "A 131.455 g written." in text_of(walker.client.get(answer.url))
    assert walker.readings(walker.world.bar(batch))[0].weight_g == Decimal("131.455")
    assert answer.url.startswith(bar_url(walker.world.bar(batch, "B")))
