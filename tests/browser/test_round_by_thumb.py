"""The round on a phone and at a desk: what fits, what a key does, and what is sent once."""

import re
from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Page, expect

from tests.browser.at_work import assert_accessible, follow, inside, press, sign_in, tap, write
from tests.browser.conftest import DESK, PHONE
from tests.house import RunningHouse
from tests.world import PASSWORD

pytestmark = pytest.mark.needs("chromium")

# One batch for each test, so that none walks into another's weighings.
_OPEN = """
with transaction.atomic():
    world = World(now=now)
    rack = world.rack(capacity=400)
    for name in {names!r}:
        batch = world.batch(cut_days_ago=28, formula_name=name, position=world.position(rack))
        series = {{0: "130.0", 7: "124.6", 14: "122.4", 21: "121.4"}}
        if name == {long_ago!r}:
            del series[21]
        world.weigh_series(batch, series)
print(json.dumps({{batch.formula.name: batch.pk for batch in Batch.objects.within(world.workshop).select_related("formula")}}))
"""
_WEIGHT_ROWS = """
from curehouse.curing.models import Reading
from curehouse.workshops.models import Workshop
rows = Reading.objects.within(Workshop.objects.get()).filter(bar__batch={batch}, moment__gte=now - timedelta(days=1))
print(json.dumps([[row.bar.letter, float(row.weight_g), str(row.client_id), row.moment.isoformat()]
                  for row in rows.select_related("bar").order_by("pk")]))
"""
LONG_AGO = "A soap last weighed two weeks ago"
NAMES = [
    "Goat & oat",
    "Plain goat with a rather long name for a soap",
    "Calendula",
    "Salt bar",
    "Lavender",
    "Honey",
    "Rosemary",
    "Cedar",
    "A soap whose name takes two lines",
    LONG_AGO,
]
# As much of a phone's screen as its browser leaves: none, its bars, its bars on a smaller one.
HEIGHTS = (844, 740, 664)


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningHouse]:
    with RunningHouse(tmp_path_factory.mktemp("round") / "data") as running:
        yield running


@pytest.fixture(scope="module")
def batches(house: RunningHouse) -> dict[str, int]:
    return inside(house, _OPEN.format(names=NAMES, long_ago=LONG_AGO))


@pytest.fixture
def walk(house: RunningHouse, batches: dict[str, int], visit: Callable[..., Page]) -> Callable[..., Page]:
    """Return a way to begin the walk past one batch's bars."""

    def begin(name: str, **device: object) -> Page:
        page = visit(house.base_url, **device)
        sign_in(page, "ottilie@fennelyard.example", PASSWORD)
        page.goto(f"/round/?batch={batches[name]}")
        return page

    return begin


def weighed(house: RunningHouse, batch: int) -> list[list[object]]:
    return inside(house, _WEIGHT_ROWS.format(batch=batch))


def assert_fits(page: Page) -> None:
    """Nothing of the round is cut at an edge, or hidden behind the keypad."""
    page.evaluate("window.scrollTo(0, 0)")
    hidden = page.evaluate(
        """() => {
          const thumb = document.querySelector(".round-thumb").getBoundingClientRect();
          const seen = [...document.querySelectorAll("main a, main button, main input:not([type=hidden]), main label span")];
          return seen.filter((one) => one.checkVisibility() && !one.closest("details:not([open])")).filter((one) => {
            const box = one.getBoundingClientRect();
            const behind = !one.closest(".round-thumb") && box.bottom > thumb.top;
            return behind || box.bottom > innerHeight || box.right > innerWidth || box.left < 0;
          }).map((one) => one.outerHTML.slice(0, 90));
        }"""
    )
    assert hidden == []


def test_round_fits_a_phone_and_reads_well_in_every_state(walk: Callable[..., Page]) -> None:
    page = walk("Plain goat with a rather long name for a soap")
    expect(page.locator("#id_weight")).to_be_focused()
    assert_fits(page)
    assert_accessible(page)
    tap(page, "12.3.4")
    write(page)
    expect(page.get_by_text("type figures with one point or comma")).to_be_visible()
    assert_fits(page)
    assert_accessible(page)
    page.locator("#id_weight").fill("")
    tap(page, "102.1")
    write(page)
    expect(page.get_by_text("120.1 g would fit.")).to_be_visible()
    assert_fits(page)
    assert_accessible(page)
    asked = page.url
    press(page, "Take 120.1 g")
    expect(page.get_by_text("A 120.1 g written.")).to_be_visible()
    assert_fits(page)
    page.goto(asked)
    expect(page.get_by_text("Weighed today:")).to_be_visible()
    assert_fits(page)
    assert_accessible(page)
    page.goto("/round/end/")
    assert_accessible(page)
    expect(page.get_by_role("link", name="bars left")).to_be_in_viewport()


def test_a_tare_forgotten_for_all_bars_is_asked_about_where_the_keys_leave_room(walk: Callable[..., Page]) -> None:
    page = walk("A soap whose name takes two lines")
    for bar, figures in enumerate(("127.3", "127.9", "128.4")):
        tap(page, figures)
        write(page)
        expect(page.locator("[data-question]")).to_contain_text("before, by" if bar else "heavier than expected")
        assert_fits(page)
        assert_accessible(page)
        follow(page, "Answer later")
    for end in (page, walk("A soap whose name takes two lines", **DESK)):
        end.goto("/round/end/")
        expect(end.locator("main .notice-box")).to_contain_text("more than expected: was something on the scale")
        assert_accessible(end)


def test_answers_are_never_behind_the_keys(walk: Callable[..., Page]) -> None:
    page = walk(LONG_AGO)
    tap(page, "131.2")
    write(page)
    follow(page, "Answer later")
    tap(page, "133.2")
    write(page)
    expect(page.locator("[data-question]")).to_contain_text(re.compile(r"So was the bar before, by [\d.]+ g to [\d.]+ g"))
    expect(page.locator("#known")).to_contain_text("on ")
    for height in HEIGHTS:
        page.set_viewport_size({"width": 390, "height": height})
        assert_fits(page)
    # The keys come with the wish to weigh again.
    expect(page.locator(".keypad")).to_be_hidden()
    page.get_by_role("button", name="Weigh again").tap()
    expect(page.locator(".keypad")).to_be_visible()
    expect(page.locator("#id_weight")).to_be_focused()
    seen = "() => document.querySelector('#id_weight').getBoundingClientRect().bottom <= " + (
        "document.querySelector('.round-thumb').getBoundingClientRect().top"
    )
    assert page.evaluate(seen)
    tap(page, "120.1")
    write(page)
    expect(page.get_by_text("B 120.1 g written.")).to_be_visible()


def test_keypad_writes_and_takes_back_and_the_phones_own_keyboard_stays_away(walk: Callable[..., Page]) -> None:
    page = walk("Goat & oat")
    field = page.locator("#id_weight")
    for key in ("1", "2", "1", "back", "0", ".", "1"):
        page.locator(f"[data-key='{key}']").tap()
    expect(field).to_have_value("120.1")
    expect(field).to_have_attribute("inputmode", "none")
    expect(field).to_be_focused()


def test_enter_twice_weighs_one_bar_once(house: RunningHouse, batches: dict[str, int], walk: Callable[..., Page]) -> None:
    page = walk("Calendula", **DESK)
    expect(page.locator(".keypad")).to_be_hidden()
    expect(page.locator("#id_weight")).to_be_focused()
    page.keyboard.type("120,1")
    with page.expect_navigation():
        page.evaluate(
            """() => {
              const form = document.querySelector("form[data-weigh]");
              form.requestSubmit();
              form.requestSubmit();
            }"""
        )
    page.keyboard.press("Enter")
    expect(page.get_by_text("A 120.1 g written.")).to_be_visible()
    (row,) = weighed(house, batches["Calendula"])
    assert row[:2] == ["A", 120.1]
    assert str(row[2])[14] == "4", "a random id (RFC 9562, version 4)"
    assert str(row[2])[19] in "89ab", "of its own variant (RFC 9562, section 4.1)"


def test_figures_typed_with_nothing_focused_are_the_weight(walk: Callable[..., Page]) -> None:
    page = walk("Cedar", **DESK)
    field = page.locator("#id_weight")
    expect(field).to_be_focused()
    field.blur()
    page.keyboard.type("12")
    expect(field).to_be_focused()
    field.blur()
    page.keyboard.type("0,1")
    expect(field).to_have_value("120,1")
    # A key that is no figure, and a shortcut of the browser's, are left alone.
    field.blur()
    page.keyboard.press("x")
    page.keyboard.press("Alt+1")
    expect(field).not_to_be_focused()
    expect(field).to_have_value("120,1")
    # What the page brought back, because it could not be read, is replaced.
    field.fill("12.3.4")
    with page.expect_navigation():
        field.press("Enter")
    expect(field).to_be_focused()
    field.blur()
    page.keyboard.type("120.1")
    expect(field).to_have_value("120.1")


@pytest.mark.parametrize(("key", "name", "kept"), [("t", "Lavender", [102.1, 120.1]), ("k", "Honey", [102.1])])
def test_question_is_answered_with_one_key(
    house: RunningHouse, batches: dict[str, int], walk: Callable[..., Page], key: str, name: str, kept: list[float]
) -> None:
    page = walk(name, **DESK)
    expect(page.locator("#id_weight")).to_be_focused()
    page.keyboard.type("102.1")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    expect(page.locator("[data-question]")).to_be_focused()
    # A second Enter, from habit, answers nothing.
    page.keyboard.press("Enter")
    with page.expect_navigation():
        page.keyboard.press(key)
    expect(page.get_by_text(f"A {kept[-1]} g written.")).to_be_visible()
    assert [row[1] for row in weighed(house, batches[name])] == kept


def test_weighing_again_clears_the_doubtful_figure_and_writes_the_new_one(
    house: RunningHouse, batches: dict[str, int], walk: Callable[..., Page]
) -> None:
    page = walk("Rosemary")
    tap(page, "102.1")
    write(page)
    page.get_by_role("button", name="Weigh again").tap()
    expect(page.locator("#id_weight")).to_have_value("")
    tap(page, "120.3")
    write(page)
    expect(page.get_by_text("A 120.3 g written.")).to_be_visible()
    assert [row[1] for row in weighed(house, batches["Rosemary"])] == [102.1, 120.3]


def test_page_gone_stale_in_another_tab_asks_before_it_writes(
    house: RunningHouse, batches: dict[str, int], walk: Callable[..., Page]
) -> None:
    first, second = walk("Salt bar"), walk("Salt bar")
    for page, figures in ((first, "120.1"), (second, "120.2")):
        tap(page, figures)
        write(page)
    expect(second.get_by_text("Weighed meanwhile: 120.1 g")).to_be_visible()
    assert_fits(second)
    assert_accessible(second)
    assert [row[1] for row in weighed(house, batches["Salt bar"])] == [120.1]
    write(second)
    assert [row[1] for row in weighed(house, batches["Salt bar"])] == [120.1, 120.2]


def test_round_is_walked_without_a_script(house: RunningHouse, batches: dict[str, int], walk: Callable[..., Page]) -> None:
    page = walk("Cedar", **PHONE, java_script_enabled=False)
    expect(page.locator(".keypad")).to_be_hidden()
    page.locator("#id_weight").fill("120.1")
    with page.expect_navigation():
        page.keyboard.press("Enter")
    expect(page.get_by_text("A 120.1 g written.")).to_be_visible()
    assert [row[:2] for row in weighed(house, batches["Cedar"])] == [["A", 120.1]]
