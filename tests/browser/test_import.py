"""A spreadsheet of cures comes in by the browser, with the house's own worker reading and writing it."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.at_work import assert_accessible, inside, press, sign_in
from tests.browser.conftest import DESK, PHONE
from tests.flows.bring_in.logs import german, log
from tests.house import RunningHouse
from tests.world import PASSWORD

pytestmark = pytest.mark.needs("chromium")


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningHouse]:
    with RunningHouse(tmp_path_factory.mktemp("import") / "data") as running:
        inside(running, "world = World(now=now)\nworld.rack()\nprint(json.dumps(1))")
        yield running


@pytest.mark.parametrize(("device", "end"), [(PHONE, "p"), (DESK, "d")], ids=["phone", "desk"])
def test_a_german_log_comes_in_and_stands_in_the_cure(
    house: RunningHouse, visit: Callable[..., Page], tmp_path: Path, device: dict[str, object], end: str
) -> None:
    yesterday = datetime.now(UTC).date() - timedelta(days=1)
    # Batches of its own for each device: the same file would add nothing.
    rows = [replace(row, batch=row.batch + end) for row in log(last_on=yesterday)]
    given = german(tmp_path, rows)
    page = visit(house.base_url, **device)
    sign_in(page, "ottilie@fennelyard.example", PASSWORD)
    page.goto("/imports/")
    page.locator("input[name=kind][value=batches]").check()
    page.get_by_label("The file", exact=True).set_input_files(given.path)
    press(page, "Look at it")
    assert page.get_by_label("Schnittdatum").input_value() == "cut_on"
    press(page, "Check it")
    expect(page.get_by_text("can be read day first or month first: choose how").first).to_be_visible()
    page.get_by_label("Dates are written").select_option("dmy")
    press(page, "Check it")
    would = page.get_by_text(f"12 batches, 12 batches that still cure, {len({(r.batch, r.bar) for r in rows})} sample bars")
    expect(would).to_be_visible()
    press(page, "Bring it in")
    expect(page.get_by_text("Brought in:")).to_be_visible()
    page.goto("/bench/?q=B01" + end)
    page.locator(".row-link").first.click()
    expect(page.locator("dl.figures")).to_be_visible()
    expect(page.get_by_role("heading", name="Weighings")).to_be_visible()
    page.goto("/")
    expect(page.get_by_text("check due").first).to_be_visible()


def test_a_file_in_other_letters_is_mended_on_a_phone_and_shown_as_it_is_read(
    house: RunningHouse, visit: Callable[..., Page], tmp_path: Path
) -> None:
    table = "Materiał|Rodzaj|Ilość (kg)|Cena za 100 g|Data\nMasło shea, świeże|fat|2,5|1,20 EUR|02.01.2026\n"
    (tmp_path / "zapas.csv").write_bytes(table.encode("iso8859-2"))
    page = visit(house.base_url, **PHONE)
    sign_in(page, "ottilie@fennelyard.example", PASSWORD)
    page.goto("/imports/")
    page.locator("input[name=kind][value=stock]").check()
    page.get_by_label("The file", exact=True).set_input_files(tmp_path / "zapas.csv")
    press(page, "Look at it")
    assert_accessible(page)
    page.get_by_label("Its letters are in").select_option("iso-8859-2")
    press(page, "Check it")
    expect(page.get_by_text("Masło shea, świeże")).to_be_visible()
    for header, key in (
        ("Materiał", "material"), ("Rodzaj", "material_kind"), ("Ilość (kg)", "amount"), ("Cena za 100 g", "unit_price"),
        ("Data", "received_on"),
    ):  # fmt: skip
        page.get_by_label(header, exact=True).select_option(key)
    page.get_by_label("Dates are written").select_option("dmy")
    press(page, "Check it")
    row = page.locator("table.record tbody tr")
    expect(row).to_contain_text("2500 g")
    for said in ("Masło shea, świeże", "1.2 EUR for 100 g", "2 January 2026"):
        expect(row).to_contain_text(said)
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
    assert_accessible(page)
