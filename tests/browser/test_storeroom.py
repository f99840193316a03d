"""A lot comes in, goes into a batch, is counted and tells its whole story, by phone."""

from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Page, expect

from tests.browser.at_work import inside, press, sign_in
from tests.house import RunningHouse
from tests.world import PASSWORD

pytestmark = pytest.mark.needs("chromium")


@pytest.fixture
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningHouse]:
    with RunningHouse(tmp_path_factory.mktemp("store") / "data") as running:
        yield running


def follow(page: Page, name: str) -> None:
    """Follow the link that says *name* and is to be seen at this width."""
    with page.expect_navigation():
        page.get_by_role("link", name=name).locator("visible=true").first.tap()


def receive(page: Page) -> None:
    follow(page, "Receive a lot")
    page.locator("[name=material]").select_option("new")
    page.locator("[name=new_name]").fill("Olive oil")
    page.locator("[name=new_kind]").select_option("fat")
    page.locator("[name=amount]").fill("25")
    page.locator("[name=unit]").select_option("kg")
    page.locator("[name=supplier]").select_option("new")
    page.locator("[name=new_supplier]").fill("Brook Mill")
    page.locator("[name=supplier_lot]").fill("BM-77")
    page.locator("[name=price]").fill("180,00")
    page.locator("[name=standing][value=released]").check()
    page.locator("[name=why]").fill("sealed, certificate read")
    press(page, "Receive it")


def test_a_lot_is_received_used_counted_and_tells_its_story(house: RunningHouse, visit: Callable[..., Page]) -> None:
    batch = inside(house, "world = World(now=now)\nprint(world.batch(cut_days_ago=2).pk)")
    page = visit(house.base_url)
    sign_in(page, "ottilie@fennelyard.example", PASSWORD)
    page.goto("/storeroom/")
    expect(page.get_by_text("Nothing is written down yet")).to_be_visible()
    receive(page)
    expect(page.get_by_role("heading", name="Olive oil, lot 1")).to_be_visible()
    page.goto(f"/batches/{batch}/")
    follow(page, "Book what it took")
    page.locator("[name=material_0]").select_option(label="Olive oil")
    page.locator("[name=amount_0]").fill("1,6")
    page.locator("[name=unit_0]").select_option("kg")
    press(page, "Propose lots")
    press(page, "Book it")
    expect(page.get_by_role("link", name="Olive oil, lot 1", exact=True)).to_be_visible()
    page.goto("/storeroom/")
    follow(page, "Count the store")
    follow(page, "Begin")
    assert "23" not in page.inner_text("main")
    page.get_by_label("You count").fill("23,3")
    page.get_by_label("Unit").select_option("kg")
    press(page, "Keep it, next lot")
    expect(page.get_by_text("23400 g are booked and 23300 g counted: say why").first).to_be_visible()
    assert page.get_by_label("You count").input_value() == "23,3"
    page.get_by_label("Why it differs").fill("a spill on the shelf")
    press(page, "Keep it, next lot")
    expect(page.locator(".verdict")).to_have_text("1 lot counted, 1 not as booked, 0 not counted.")
    follow(page, "Olive oil, lot 1")
    story = page.inner_text("main")
    for said in ("+25 kg", "−1.6 kg", "−100 g", "a spill on the shelf", "23.3 kg", "BM-77", "Brook Mill"):
        assert said in story, said
    expect(page.locator(f"a[href='/batches/{batch}/']").first).to_be_visible()
    assert inside(house, "from inventory.balance import differences\nprint(json.dumps(len(list(differences()))))") == 0
