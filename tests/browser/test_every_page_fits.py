"""Every page, at phone and desk, in light and dark: nothing runs off its side, and everyone can read and hit it."""

from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Route

from curehouse.web.urls import urlpatterns
from tests.browser.at_work import assert_accessible, inside, sign_in
from tests.browser.conftest import DESK, PHONE
from tests.house import RunningHouse
from tests.world import PASSWORD

pytestmark = pytest.mark.needs("chromium")
# The newest of these asks for targets of 24 px.

# So long that nothing lies half behind the rooms at its lower edge: what does is only scrolled to.
LONG_PHONE = {**PHONE, "viewport": {"width": 390, "height": 5000}}

# A long name and an unbroken word, doubts with and without a guess, a missed round, bars without a
# place, a batch in the mould, one never checked, one that failed and one all of whose bars are gone.
_FILL = """
import tempfile
from pathlib import Path
from curehouse.curing.models import Position, Rack, Reading, SampleBar
from curehouse.flows.assess import assess_batch
from curehouse.flows.check import check
from curehouse.flows.bring_in.door import FileGiven, carry_on, check_as, lay_out
from curehouse.flows.bring_in.options import options_of
from curehouse.intake.services import begin_bringing, end_step
from curehouse.curing.labels import LabelAsked
from curehouse.curing.services.labels import keep_label
from curehouse.curing.services.rooms import add_room
from curehouse.flows.end_bar import end_bar
from curehouse.flows.log_air import log_air_many, sensed, withdraw
from curehouse.flows.stand_rack import stand_rack
from curehouse.flows.foretell import learn_and_foretell
from curehouse.flows.order_notices import renew_orders
from curehouse.flows.orders import send_order
from curehouse.flows.proposal_notices import renew_proposals
from curehouse.flows.receive_order import LineCame, LotCame, receive_order
from curehouse.flows.stock_notices import renew_stock
from curehouse.flows.take_out import take_out
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.flows.weigh import strike
from curehouse.flows.stock import count, end_store_count
from curehouse.flows.blends import make_blend, write_blend
from inventory.services.blends import BlendEntry, MakingEntry, PartEntry, TakeEntry
from inventory.services.offers import TermsEntry, write_terms
from inventory.services.orders import lines_of, write_order
from inventory.services.proposals import keep_proposal
from inventory.services.papers import attach_file, look_through
from inventory.services.things import SupplierEntry, write_supplier
from curehouse.making.services import TakeOutEntry
from curehouse.making.services.formulas import write_formula
from uuid import uuid4
from curehouse.flows.pour import begin, say
from curehouse.making.pouring.saying import Said
from curehouse.flows.runs import call_off_run, move_run, plan_run
from tests.formulas import LIQUIDS, fat, formula_entry
from curehouse.flows.join import Newcomer, join_new
from curehouse.workshops.models import Scale
from curehouse.selling.services import add_market
from curehouse.workshops.services.audit import note
from curehouse.workshops.services.invitations import invite
from curehouse.workshops.services import change_preferences, check_scale, give_token
with transaction.atomic():
    world = World(now=now)
    rule = {"check_limit": "pH 10.0 or less on a wetted bar", "check_method": "strip"}
    change_preferences(workshop=world.workshop, changes=rule)
    token = give_token(actor=world.actor, name="Rack tablet", reach="works", at=now)
    invited = invite(actor=world.actor, role="maker", email="somebody.with.a.long.name@an-even-longer-domain.example", at=now)
    reader = invite(actor=world.actor, role="reader", email="", at=now)[0]
    newcomer = Newcomer("Friederike Unterholzkirschblüten-Sternenberg", "friederike@fennelyard.example", "lantern-orchard-7")
    joined = join_new(invitation=reader, newcomer=newcomer, at=now)
    note(actor=world.actor, code="batch_new", said="Entered a batch: Unterholzkirschblütenmilchseifenmischung 7", at=now)
    check_scale(actor=world.actor, scale=world.scale, test_weight_g=Decimal(200), shown_g=Decimal("199.9"), at=now)
    rack = world.rack(capacity=60)
    place = lambda level, number: world.position(rack, level, number)
    series = {0: "130.0", 7: "124.6", 14: "122.4", 21: "121.4", 28: "120.9"}
    found = {"method": "pH strip", "value": "9.6", "note": "read in daylight", "checked_at": world.days_ago(1), "at": now}
    long_name = "Goat's milk with oat, honey and marigold petals"
    doubtful = world.batch(cut_days_ago=36, sample_bars=8, position=place(1, 1), formula_name=long_name)
    world.weigh_series(doubtful, series, letters="ABCDEFGH")
    for letter, weight in (("A", "102.9"), ("B", "141.3"), ("C", "139.8"), ("D", "12.09")):
        world.weigh(world.bar(doubtful, letter), weight, moment=world.days_ago(0.2), firmness="gives")
    newest = Reading.objects.within(world.workshop).newest_first().first()
    strike(actor=world.actor, reading=newest, reason="wrong batch", at=now)
    loose = world.batch(cut_days_ago=2, formula_name="Unterholzkirschblütenmilchseifenmischung")
    passed = world.batch(cut_days_ago=40, position=place(1, 2))
    world.weigh_series(passed, {0: "130.0", 21: "121.0", 28: "120.4", 35: "120.1", 39: "120.0"})
    check(actor=world.actor, batch=passed, passed=True, **found)
    failed = world.batch(cut_days_ago=40, position=place(2, 1))
    world.weigh_series(failed, series)
    check(actor=world.actor, batch=failed, passed=False, **found)
    end_bar(actor=world.actor, bar=world.bar(failed, "C"), why="sold early by mistake", at=now)
    gone = world.batch(cut_days_ago=60)
    take_out(actor=world.actor, batch=gone, entry=TakeOutEntry(gone.bars_left, "gift", now, "a neighbour asked"), at=now)
    mould = world.batch(cut_days_ago=None)
    for batch in (doubtful, loose, passed, failed):
        assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=now)
learn_and_foretell(workshop_id=world.workshop.pk, at=now)
asked = LabelAsked("directive_76_211", "open", now.date() + timedelta(days=60), 12, Decimal("0.950"))
keep_label(actor=world.actor, batch=passed, asked=asked, at=now)
folder = Path(tempfile.mkdtemp())
def laid(name, text):
    (folder / name).write_text(text)
    return lay_out(actor=world.actor, kind="batches", given=FileGiven(name, folder / name), at=now)
head = "batch,formula,bar,water,cut,day,weight,a header that nobody knows and that is long beyond all measure\\n"
row = "Fern 1,Fern,b1,31 %,2024-01-02,{},120.5,Donaudampfschifffahrtsgesellschaftskapitänsmützenabzeichen\\n"
waits = laid("a cure log with a name as long as people give to files in a hurry.csv", head + row.format(0))
wrong, right = laid("wrong.csv", head + row.format("x") * 3), laid("log.csv", head + row.format(7))
for one in (wrong, right):
    check_as(actor=world.actor, brought=one, options=options_of(one.options), at=now)
    carry_on(workshop_id=world.workshop.pk, import_id=one.pk, at=now)
begin_bringing(brought=right, at=now)
carry_on(workshop_id=world.workshop.pk, import_id=right.pk, at=now)
broken = laid("broken.csv", head + row.format(7))
end_step(brought=broken, state="failed", outcome=None, said="The file is not in the data folder any more.", at=now)
oil = world.material("Olive oil, cold pressed, of last year's second harvest")
soon = world.lot("4200.5", material=oil, best_before=now.date() + timedelta(days=9), supplier_lot="BM-" + "7" * 60)
old = world.lot("900", material=oil, best_before=now.date() - timedelta(days=2))
lye = world.lot("10000", material=world.material("Sodium hydroxide", kind="lye"), standing="quarantine")
supplier = write_supplier(workshop=world.workshop, entry=SupplierEntry("Brook Mill", "orders@brookmill.example"))
attach_file(actor=world.actor, lot=soon, paper=look_through("certificate of a very long name indeed.txt", b"99.2 %"), at=now)
counting = {"actor": world.actor, "moment": now, "at": now, "on_walk": True}
counted = count(lot=soon, counted=Decimal("4100"), reason="spilt some on the floor", **counting)
ended = end_store_count(actor=world.actor, store_count=counted.count.store_count, at=now)
# The next one is under way: by eye, and with a long reason.
by_eye = count(lot=lye, counted=Decimal("7000"), is_estimate=True, reason="Unterholzkirschblüten " + "7" * 40, **counting)
(use,) = book_use(actor=world.actor, batch=passed, lines=[UseLine(old, Decimal(500), "two days over")], used_at=now, at=now)
lye_offer = world.offer(material=lye.material, supplier=supplier, is_hazardous=True, price=Decimal("21.50"), lead_days=3)
oil_offer = world.offer(
    material=oil, supplier=supplier, article="Unterholzkirschblütenöl-" + "7" * 40, shelf_days=300, min_packs=2,
    breaks=[(4, Decimal("7.20")), (10, Decimal("6.90"))],
)
write_terms(actor=world.actor, supplier=supplier, terms=TermsEntry(Decimal("9.50"), Decimal(400), Decimal(15), 5))
asked = {"actor": world.actor, "at": now}
late = write_order(supplier=supplier, packs={lye_offer.pk: 2, oil_offer.pk: 4}, note="Ring before you come", **asked)
late = send_order(order=late, sent_on=now.date() - timedelta(days=20), **asked)
came = [LineCame(line.pk, [LotCame(1)], 1, "torn open on one side") for line in lines_of(late)[:1]]
receive_order(order=late, received_on=now.date() - timedelta(days=3), came=came, **asked)
written = write_order(supplier=supplier, packs={oil_offer.pk: 5}, **asked)
renew_orders(workshop=world.workshop, at=now, tells_new=True)
figures = {
    "days": 12, "planned": [], "unplanned_half": 1200.0, "unplanned_most": 3100.0, "here": 900.0, "lead_half": 7,
    "lead_most": 9, "risk": 0.31, "risk_after": 0.0004, "risk_accepted": 0.021, "lasts_days": 80.0, "expires": 12.0,
    "next_expires": 0.7, "last_day": 3,
}
freed = {"packs": 2, "costs": "9.50", "free_from": "400.00", "is_free": True}
kept = [{"material": oil.pk, "offer": oil_offer.pk, "packs": 5, "because": "due", "freight": freed, "why": figures}]
keep_proposal(order=written, day=now.date(), decide_by=now.date() + timedelta(days=3), lines=kept, at=now)
renew_proposals(workshop=world.workshop, at=now, tells_new=True)
mix = world.material("Unterholzkirschblütenduftölmischung", kind="fragrance")
rose = world.lot("3000", material=world.material("Wild rose extract, of the second bottle of last spring", kind="fragrance"))
parts = [PartEntry(Decimal(1), rose.material), PartEntry(Decimal(1), name="water boiled beforehand and cooled overnight")]
write_blend(material=mix, entry=BlendEntry(parts, Decimal("0.98"), 60), actor=world.actor, at=now)
takes = [TakeEntry(Decimal("1500.25"), rose), TakeEntry(Decimal(1500), name=parts[1].name)]
made = make_blend(material=mix, entry=MakingEntry(Decimal(2940), takes, now), actor=world.actor, at=now).lot
for number in range(6):
    world.lot(material=world.material(f"Unterholzkirschblütenextrakt {number}"), best_before=now.date() + timedelta(days=9))
renew_stock(workshop=world.workshop, at=now, tells_new=True)
formula = write_formula(actor=world.actor, entry=formula_entry(superfat=Decimal("0.03"), note="Cool."), at=now)
lines = (fat("olive", "700", material=oil), fat("coconut", "300"), *LIQUIDS)
wanted = formula_entry(name="Unterholzkirschblütenmilchseife mit Hafer", lines=lines, naoh_from=lye.material)
version = write_formula(actor=world.actor, entry=wanted, at=now)
day = now.date() + timedelta(days=12)
run = plan_run(actor=world.actor, version=version, fats_g=Decimal(90000), pour_on=day, bars=900, note="For the fair.", at=now)
off = plan_run(actor=world.actor, version=version, fats_g=Decimal(2000), pour_on=day, at=now)
move_run(actor=world.actor, run=off, pour_on=day + timedelta(days=2), why="the milk comes later", at=now)
call_off_run(actor=world.actor, run=off, why="no goat's milk that week after all", at=now)
told = {"actor": world.actor, "at": now}
pours = [begin(version=one, fats_g=Decimal(2000), **told) for one in (formula, version, formula, formula)]
for one in pours[1:]:
    say(pour=one, said=Said("caution", uuid4()), **told)
say(pour=pours[2], said=Said("weighed", uuid4(), slot="naoh", amount_g=Decimal(299), stands=True), **told)
say(pour=pours[3], said=Said("doubt", uuid4(), words="Unterholzkirschblütenmilch" * 9), **told)
cellar = add_room(workshop=world.workshop, name="Unterholzkirschblütenmilchseifentrockenkammer")
quiet = add_room(workshop=world.workshop, name="Loft")
airs = [
    sensed(world.actor, moment=world.days_ago(day), humidity_pct=Decimal(50 + day), temperature_c=Decimal(day % 9 - 3))
    for day in range(40) if day not in (20, 21, 22, 23, 24, 26, 27, 28, 29)
]
air = [row for row, _new in log_air_many(actor=world.actor, room=cellar, entries=airs, at=now)]
withdraw(actor=world.actor, reading=air[1], reason="held in the hand", at=now)
stand_rack(actor=world.actor, rack=rack, room=quiet, since=now.date() - timedelta(days=3), at=now)
asked = Reading.objects.within(world.workshop).filter(bar__batch=doubtful).newest_first()[:4]
fair_on = day + timedelta(days=60)
fair = add_market(actor=world.actor, name="Unterholzkirschblütenmilchseifenmarkt", held_on=fair_on, note="7" * 60, at=now)
print(json.dumps({
    "formulas": [formula.formula_id, mould.formula_id],
    "versions": [formula.pk, version.pk],
    "pours": [one.pk for one in pours],
    "runs": [run.pk, off.pk],
    "batches": [doubtful.pk, loose.pk, passed.pk, failed.pk, gone.pk, mould.pk],
    "racks": [rack.pk],
    "rooms": [cellar.pk, quiet.pk],
    "room-readings": [air[0].pk],
    "markets": [fair.pk],
    "materials": [oil.pk, lye.material_id, mix.pk],
    "suppliers": [supplier.pk],
    "people": [joined.pk],
    "invitations": [invited[0].pk],
    "offers": [oil_offer.pk],
    "orders": [late.pk, written.pk],
    "lots": [soon.pk, old.pk, lye.pk, made.pk, rose.pk],
    "movements": [use.movement_id],
    "counts": [counted.count.pk],
    "store-counts": [ended.pk, by_eye.count.store_count_id],
    "holds": [use.hold.pk],
    "imports": [waits.pk, wrong.pk, right.pk, broken.pk],
    "positions": [place(1, 1).pk, place(2, 2).pk],
    "round": [world.bar(doubtful).pk, world.bar(doubtful, "B").pk, world.bar(loose).pk],
    "sample-bars": [world.bar(loose).pk],
    "readings": [row.pk for row in asked],
    "workshop": [world.scale.pk],
}))
"""
# These write and have no page of their own, or are no page.
_NO_PAGE = {
    "healthz",
    "sign_in",
    "sign_out",
    "water_share",
    "batch_verdict",
    "notice_done",
    "set_up",
    "import_progress",
    "lot_file",
    "offer_end",
    "order_sheet",
    "orders_propose",
    "material_wanted",
}


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningHouse]:
    with RunningHouse(tmp_path_factory.mktemp("fit") / "data") as running:
        yield running


@pytest.fixture(scope="module")
def addresses(house: RunningHouse) -> list[str]:
    """Return every address of the URL table that may be a page, with rows that fill it."""
    rows, found = inside(house, _FILL), []
    for route in urlpatterns:
        pattern = f"/{route.pattern}"
        if route.name in _NO_PAGE or route.name.startswith("list_"):
            continue
        if "<int:pk>" in pattern:
            room = pattern.split("/")[1]
            assert room in rows, f"{route.name}: this test fills no row for /{room}/"
            found += [pattern.replace("<int:pk>", str(pk)) for pk in rows[room]]
        else:
            found.append(pattern)
    return [*found, "/no-such-page/"]


@pytest.fixture(scope="module")
def has_page() -> dict[str, bool]:
    """Return what was found of addresses so far: whether there is a page to look at."""
    return {}


@pytest.fixture
def pages(
    house: RunningHouse, addresses: list[str], has_page: dict[str, bool], browser: Browser
) -> Iterator[Callable[..., Iterator[tuple[str, Page]]]]:
    """Return a walk past every page on a device; an address that only takes what a form sends has none."""
    opened: list[BrowserContext] = []

    def walk(**device: object) -> Iterator[tuple[str, Page]]:
        context = browser.new_context(base_url=house.base_url, **device)
        opened.append(context)
        page = context.new_page()
        page.goto("/sign-in/")
        yield "/sign-in/", page
        sign_in(page, "ottilie@fennelyard.example", PASSWORD)
        for address in addresses:
            if address not in has_page:
                has_page[address] = page.request.get(address).status != 405
            if not has_page[address]:
                continue
            answer = page.goto(address)
            assert answer is not None
            assert answer.status < 500, address
            yield address, page

    yield walk
    for context in opened:
        context.close()


# So tall is what a thumb hits.
_SMALL = """[...document.querySelectorAll(".button, .rooms a, .keypad button")].filter((one) => one.checkVisibility())
            .filter((one) => one.getBoundingClientRect().height < 44).map((one) => one.textContent.trim())"""


@pytest.mark.parametrize("device_width", [320, PHONE["viewport"]["width"]])
def test_no_page_scrolls_sideways_on_a_phone_and_buttons_are_as_tall_as_a_thumb(
    pages: Callable[..., Iterator[tuple[str, Page]]], device_width: int
) -> None:
    wide, small = {}, {}
    # 320 px is the smallest phone, and a page made four times larger; there a table may scroll in its
    # own box (WCAG 2.2, 1.4.10).
    for address, page in pages(**PHONE | {"viewport": {"width": device_width, "height": 844}}):
        # An overflowing page makes a phone's window wider: the device's own width is the measure.
        width = page.evaluate("Math.max(document.documentElement.scrollWidth, innerWidth)")
        boxes = page.evaluate(
            """[...document.querySelectorAll(".table-scroll")].filter((box) => box.scrollWidth > box.clientWidth)
               .map((box) => box.innerText.slice(0, 60))"""
        )
        if width > device_width or (boxes and device_width > 320):
            wide[address] = (width, boxes)
        if found := page.evaluate(_SMALL):
            small[address] = found
    assert (wide, small) == ({}, {})


# The colours of the dark are the same at a desk.
_LOOKS = [(LONG_PHONE, "light"), (DESK, "light"), (DESK, "dark"), pytest.param(LONG_PHONE, "dark", marks=pytest.mark.long)]


@pytest.mark.parametrize(("device", "scheme"), _LOOKS)
def test_every_page_is_accessible(
    pages: Callable[..., Iterator[tuple[str, Page]]], device: dict[str, object], scheme: str
) -> None:
    for _address, page in pages(**device, color_scheme=scheme):
        assert_accessible(page)


def test_no_page_asks_for_what_its_policy_refuses(pages: Callable[..., Iterator[tuple[str, Page]]]) -> None:
    said: list[tuple[str, str]] = []
    listening: set[Page] = set()
    for _address, page in pages(**DESK):
        if page not in listening:
            listening.add(page)
            page.on("console", lambda one: said.append((one.type, f"{one.location['url']}: {one.text}")))
            page.on("pageerror", lambda error: said.append(("error", str(error))))
            # The first address was answered before anybody listened.
            page.reload(wait_until="load")
    page.goto("/api/docs/")
    page.get_by_role("heading", name="Curehouse").wait_for()
    page.locator(".opblock-summary-control").first.click()
    page.locator(".opblock-body").first.wait_for()
    # That an address answered 404 or 403 is no word about the policy.
    loud = [text for kind, text in said if kind in ("error", "warning") and "the server responded with a status" not in text]
    assert loud == []


_WATCH = "window.refused = []; addEventListener('securitypolicyviolation', (one) => refused.push(one.effectiveDirective))"
_SMUGGLED = (
    "<script>window.ran = 1</script><script src='/static/curehouse/round.js'></script><style>p{}</style>"
    "<p style='color:red'>x</p><svg onload='window.ran = 2'></svg><base href='/elsewhere/'>"
    "<object data='/healthz'></object><iframe src='/healthz'></iframe><img src='data:image/gif;base64,R0lGODlhAQABAAAAACw='>"
)


def test_what_is_smuggled_into_a_page_does_not_run_there(house: RunningHouse, browser: Browser) -> None:
    """The same page without its policy runs it: the negative control of the test above."""
    for guarded in (True, False):
        context = browser.new_context(base_url=house.base_url, **DESK)
        page = context.new_page()
        page.add_init_script(_WATCH)

        def smuggle(route: Route, *, guarded: bool = guarded) -> None:
            answer = route.fetch()
            headers = answer.headers if guarded else {"content-type": answer.headers["content-type"]}
            route.fulfill(response=answer, headers=headers, body=answer.text().replace("<main", f"{_SMUGGLED}<main", 1))

        page.route(f"{house.base_url}/sign-in/", smuggle)
        page.goto("/sign-in/")
        ran, refused = page.evaluate("[window.ran ?? 0, refused]")
        context.close()
        if guarded:
            assert ran == 0
            said = {"script-src-elem", "script-src-attr", "style-src-elem", "style-src-attr", "base-uri", "img-src"}
            assert said <= set(refused), refused
            assert {"frame-src", "object-src"} <= set(refused), refused
        else:
            assert (ran > 0, refused) == (True, [])


def test_a_batch_is_printed_black_on_white_without_the_rooms(pages: Callable[..., Iterator[tuple[str, Page]]]) -> None:
    seen = 0
    for address, page in pages(**DESK, color_scheme="dark"):
        if not address.startswith("/batches/") or page.locator("#weighings").count() == 0:
            continue
        page.emulate_media(media="print", color_scheme="dark")
        colours = "getComputedStyle(document.querySelector({0})).{1}".format
        assert page.evaluate(colours("'.verdict'", "color")) == "rgb(0, 0, 0)"
        assert page.evaluate(colours("'body'", "backgroundColor")) == "rgb(255, 255, 255)"
        assert page.locator(".rooms, .acts, .house").filter(visible=True).count() == 0
        page.emulate_media(media="screen", color_scheme="dark")
        seen += 1
    assert seen > 2
