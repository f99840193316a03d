"""A formula in another size, and batches that begin from it."""

from decimal import Decimal
from html import unescape
from typing import Any

import pytest
from django.http import HttpResponse

from curehouse.core.chemistry.alkali import Alkali
from curehouse.making.formulas.entries import LineEntry, Per, Role
from curehouse.making.models import Batch, FormulaVersion
from curehouse.making.services.facts import FactsEntry, write_facts
from curehouse.making.services.formulas import write_formula, write_version
from curehouse.workshops.services import add_scale, change_preferences
from inventory.services.lots import record_value, rule_lot
from tests.formulas import FATS, LIQUIDS, formula_entry
from tests.making.test_lots_taken import stored
from tests.web.bench_typing import NOT_CUT
from tests.web.on_round import text_of
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def visitor(world: World) -> Visitor:
    return Visitor(world)


@pytest.fixture
def version(world: World) -> FormulaVersion:
    return write_formula(actor=world.actor, entry=formula_entry(), at=world.now)


@pytest.mark.parametrize(
    ("query", "says"),
    [
        ("by=fats&fats_g=2000", "olive oil 1400.0 g 70 %"),
        # 25 x 8 x 6 cm x 0.69 = 828 g of fats, 70 % of them olive: 579.6 g.
        ("by=block&length_cm=25&width_cm=8&height_cm=6", "olive oil 579.6 g"),
        # pi x 4 x 4 x 10 cm x 0.69 = 346.8 g, of two 693.7: 485.6 g.
        ("by=tube&diameter_cm=8&height_cm=10&count=2", "olive oil 485.6 g"),
        # 1000 g of fats make 1000 + 140.67 + 320 g: 10 bars of 120 g are 0.8215 of it.
        ("by=bars&bars=10&cut_g=120", "olive oil 575.1 g"),
        # 0.8558 of it: 599.04 g of olive oil and 256.73 g of coconut oil, whose sum of 855.8 g is kept.
        ("by=bars&bars=10&cut_g=120&loss_pct=4", "olive oil 599.1 g"),
        ("by=bars&bars=10", "weight of a bar at the cut is missing"),
        ("by=tube&height_cm=10", "diameter of the mould is missing"),
        ("by=fats&fats_g=lots", "type figures"),
        ("by=fats&fats_g=9999999", "over 999999 g"),
        ("by=melon", "choose one"),
        # 2400 g with a point of thousands: nobody is shown a batch of 2.4 g.
        ("by=fats&fats_g=2.400", "“2.400” reads two ways: type 2400, or 2.4."),
        ("by=fats&fats_g=1,234", "reads two ways: type 1234, or 1.2340."),
        ("by=bars&bars=1.000&cut_g=120", "reads two ways: type 1000, or 1."),
        ("by=bars&bars=10&cut_g=1.200", "reads two ways: type 1200, or 1.2."),
        ("by=bars&bars=10&cut_g=120&loss_pct=4.000", "reads two ways"),
        ("by=tube&diameter_cm=8.000&height_cm=10", "reads two ways"),
        ("by=tube&diameter_cm=8&height_cm=10&count=2.000", "reads two ways"),
        ("by=block&length_cm=25.000&width_cm=8&height_cm=6", "reads two ways"),
    ],
)
def test_a_formula_in_another_size(visitor: Visitor, version: FormulaVersion, query: str, says: str) -> None:
    assert says in visitor.words("version_scale", version.pk, query=f"?{query}")


def test_the_size_that_it_begins_with_is_one_that_may_be_sent() -> None:
    house = World(unit="oz", name="Ounces", email="oz@house.example")
    visitor = Visitor(house)
    # 1000 g are 35.274 oz, which would read two ways.
    version = write_formula(actor=house.actor, entry=formula_entry(), at=house.now)
    begins = visitor.get("version_scale", version.pk).context["form"]["fats_g"].value()
    assert "reads two ways" not in visitor.words("version_scale", version.pk, query=f"?by=fats&fats_g={begins}")


def test_a_house_that_weighs_in_ounces_measures_its_moulds_in_inches() -> None:
    house = World(unit="oz", name="Ounces", email="oz@house.example")
    visitor = Visitor(house)
    version = write_formula(actor=house.actor, entry=formula_entry(), at=house.now)
    words = visitor.words("version_scale", version.pk)
    assert "Length, inches" in words
    assert "Length, cm" not in words
    # 10 x 4 x 2.5 inches are 100 cubic inches, 1638.7 cm3: x 0.69 = 1130.7 g of fats, 70 % of them 27.9 oz.
    assert "olive oil 27.9" in visitor.words(
        "version_scale", version.pk, query="?by=block&length_cm=10&width_cm=4&height_cm=2.5"
    )
    assert "type it in inches" in visitor.words("version_scale", version.pk, query="?by=block&width_cm=4&height_cm=2.5")


@pytest.mark.parametrize("fats_g", ["3", "10", "20"])
def test_a_size_that_the_scale_can_hardly_tell_is_shown_or_refused(world: World, visitor: Visitor, fats_g: str) -> None:
    add_scale(workshop=world.workshop, name="Old", step_g=Decimal(5))
    scent = LineEntry(Role.FRAGRANCE, name="Lavender", amount=Decimal(30), most_share=Decimal("0.03"))
    version = write_formula(actor=world.actor, entry=formula_entry(lines=(*FATS, *LIQUIDS, scent)), at=world.now)
    answer = visitor.get("version_scale", version.pk, query=f"?by=fats&fats_g={fats_g}")
    assert answer.status_code == 200
    assert "Lavender" in text_of(answer)


def test_a_batch_too_small_for_the_scale_is_named_with_its_least_size(
    world: World, visitor: Visitor, version: FormulaVersion
) -> None:
    add_scale(workshop=world.workshop, name="Parcel scale", step_g=Decimal(5))
    words = visitor.words("version_scale", version.pk, query="?by=fats&fats_g=100")
    assert "is little for this scale" in words
    assert "Parcel scale (5 g)" in words
    assert "Kitchen scale (0.1 g)" in words


def begin(visitor: Visitor, version: FormulaVersion, query: str = "", like: Batch | None = None) -> dict[str, str]:
    """Return what the form of a batch begun from *version*, or *like* another, holds."""
    query = f"?version={version.pk}{query}" if like is None else f"?like={like.pk}"
    form = visitor.get("batch_new", query=query).context["form"]
    sent = {name: str(form[name].value() or "") for name in form.fields}
    sent |= {"poured_at": "2026-03-08T10:00", **NOT_CUT}
    sent |= {"liquids-TOTAL_FORMS": str(len(form.liquids.forms)), "liquids-INITIAL_FORMS": "0"}
    for row in form.liquids:
        sent |= {row[name].html_name: str(row[name].value() or "") for name in row.fields}
    return sent


def enter(visitor: Visitor, sent: dict[str, str], **changes: Any) -> HttpResponse:
    return visitor.post("batch_new", **(sent | changes))


def test_a_batch_begins_with_what_its_version_weighs(world: World, visitor: Visitor, version: FormulaVersion) -> None:
    sent = begin(visitor, version, "&fats_g=2000")
    assert (sent["formula_name"], sent["fats_g"], sent["lye_g"]) == ("Goat's milk", "2000", "281.3")
    assert enter(visitor, sent).status_code == 302
    batch = Batch.objects.within(world.workshop).get()
    assert (batch.version, batch.formula, batch.lye_confirmed) == (version, version.formula, False)
    assert {(one.kind, one.mass_g, one.place) for one in batch.liquids.all()} == {
        ("water", 300, "front"),
        ("goat_milk", 340, "trace"),
    }
    assert "from version 1" in visitor.words("formula", version.formula_id)
    assert "Poured from version 1" in visitor.words("batch", batch.pk)


def test_in_ounces_the_lye_to_begin_with_is_never_rounded_up(world: World, visitor: Visitor, version: FormulaVersion) -> None:
    change_preferences(workshop=world.workshop, changes={"unit": "oz"})
    world.workshop.refresh_from_db()
    for grams in range(900, 960, 7):
        sent = begin(visitor, version, f"&fats_g={grams}")
        # What olive and coconut take less 6 %, by hand, in ounces.
        fats = round(grams * 0.7, 1), round(grams * 0.3, 1)
        most = (fats[0] * 190 + fats[1] * 256.5) / 56106 * 39.997 * 0.94 / 28.349523125
        assert 0 <= most - float(sent["lye_g"]) < 0.006


def test_once_poured_a_version_stays_and_a_change_is_the_next(world: World, visitor: Visitor, version: FormulaVersion) -> None:
    enter(visitor, begin(visitor, version))
    entry = formula_entry(superfat=Decimal("0.08"))
    changed = write_version(actor=world.actor, formula=version.formula, entry=entry, over=version.pk, at=world.now)
    assert (changed.number, changed.revision) == (2, 1)
    assert list(FormulaVersion.objects.within(world.workshop).in_force().newest_first()) == [changed, version]
    words = visitor.words("formula_version", version.pk)
    assert "poured: what is written in it stays as it is" in words
    assert "had as much for its fats" in words
    assert "Version 2" in words


def test_a_version_written_anew_meanwhile_is_not_poured(world: World, visitor: Visitor, version: FormulaVersion) -> None:
    sent = begin(visitor, version)
    write_version(actor=world.actor, formula=version.formula, entry=formula_entry(), at=world.now)
    assert "was written anew meanwhile" in text_of(enter(visitor, sent))
    assert not Batch.objects.within(world.workshop).exists()


def test_a_batch_like_the_last_stays_with_its_version_and_counts_with_the_lye_of_today(world: World, visitor: Visitor) -> None:
    lye = stored(world, "Sodium hydroxide", "lye", ("500", "95"))
    version = write_formula(actor=world.actor, entry=formula_entry(naoh_from=lye), at=world.now)
    enter(visitor, begin(visitor, version, "&fats_g=2000"))
    last = Batch.objects.within(world.workshop).get()
    # 281.3 g of pure lye, of 95 %; and of the bag that was opened since, of 99.5 %.
    assert last.lye_g == Decimal("296.1")
    world.lot("5000", material=lye)
    write_off = lye.lots.order_by("pk").first()
    rule_lot(actor=world.actor, lot=write_off, standing="rejected", why="caked", at=world.now)
    record_value(
        actor=world.actor, lot=lye.lots.order_by("pk").last(), name="Purity", value=Decimal("99.5"), unit="%", at=world.now
    )
    sent = begin(visitor, version, query="", like=last)
    assert (sent["version"], sent["fats_g"], sent["lye_g"]) == (str(version.pk), "2000", "282.7")
    assert {sent["liquids-0-mass_g"], sent["liquids-1-mass_g"]} == {"300", "340"}
    assert enter(visitor, sent).status_code == 302
    assert Batch.objects.within(world.workshop).latest("pk").version == version
    # Refused by now: no lye to begin with, and still the version's.
    for lot in lye.lots.all():
        record_value(actor=world.actor, lot=lot, name="Purity", value=Decimal(80), unit="%", at=world.now)
    sent = begin(visitor, version, query="", like=last)
    assert (sent["version"], sent["lye_g"]) == (str(version.pk), "")


def test_another_name_makes_it_a_batch_entered_by_hand(world: World, visitor: Visitor, version: FormulaVersion) -> None:
    enter(visitor, begin(visitor, version), formula_name="Something else")
    batch = Batch.objects.within(world.workshop).select_related("formula").get()
    assert (batch.version, batch.formula.name) == (None, "Something else")


def test_lye_that_is_too_much_by_the_formula_is_asked_about_with_the_figure_of_the_formula(
    world: World, visitor: Visitor, version: FormulaVersion
) -> None:
    sent = begin(visitor, version)
    words = text_of(enter(visitor, sent, lye_g="160"))
    assert "160.0 g of lye is more than these fats can take" in words
    assert "Take 140.6 g" in words
    assert not Batch.objects.within(world.workshop).exists()
    assert enter(visitor, sent, lye_g="160", lye_confirmed="160.000").status_code == 302
    batch = Batch.objects.within(world.workshop).get()
    assert (batch.lye_confirmed, batch.needs_check) == (True, True)


def test_lye_far_under_the_formulas_is_asked_about(visitor: Visitor, version: FormulaVersion) -> None:
    assert "far less than these fats have" in text_of(enter(visitor, begin(visitor, version), lye_g="14.06"))


def test_what_may_be_caustic_leaves_nobody_before_its_check_is_passed(world: World, visitor: Visitor) -> None:
    entry = formula_entry(superfat=Decimal("0.03"))
    version = write_formula(actor=world.actor, entry=entry, at=world.now)
    cut = {"is_cut": "yes", "cut_at": "2026-03-09T10:30", "bars": "24", "sample_bars": "3"}
    enter(visitor, begin(visitor, version), **cut)
    batch = Batch.objects.within(world.workshop).get()
    assert batch.needs_check
    assert "goes to nobody" in visitor.words("batch", batch.pk).replace("go to nobody", "goes to nobody")
    sold = {"bars": "2", "purpose": "gift", "taken_at": "2026-03-10T09:30", "forced_reason": "a neighbour asked"}
    assert "pass its safety check before bars leave" in text_of(visitor.post("batch_take_out", batch.pk, **sold))
    batch.refresh_from_db()
    assert batch.bars_left == 24


def test_a_purity_that_is_hardly_sold_asks_for_the_check_however_much_superfat(world: World, visitor: Visitor) -> None:
    entry = formula_entry(superfat=Decimal("0.08"), naoh_purity=Decimal("0.93"), confirmed=("purity_low:naoh:0.9300",))
    version = write_formula(actor=world.actor, entry=entry, at=world.now)
    assert enter(visitor, begin(visitor, version)).status_code == 302
    assert Batch.objects.within(world.workshop).get().needs_check


def test_a_formula_that_is_refused_by_now_gives_no_lye_and_asks_for_the_check(
    world: World, visitor: Visitor, version: FormulaVersion, monkeypatch: Any
) -> None:
    assert "140.6" in visitor.words("formula_version", version.pk)
    sent = begin(visitor, version)
    # As if the lots that count by now had made it so.
    monkeypatch.setattr(Alkali, "least_plausible_purity", 1.1)
    words = visitor.words("formula_version", version.pk)
    assert "lower than lye is sold at" in words
    assert "140.6" not in words
    assert not begin(visitor, version)["lye_g"]
    # Nor is an amount put forward where the lye is asked about.
    asked = enter(visitor, sent, lye_g="14.06")
    assert "is refused today" in text_of(asked)
    assert "take_lye" not in asked.content.decode()
    assert "140.6" not in text_of(asked)
    assert enter(visitor, sent).status_code == 302
    assert Batch.objects.within(world.workshop).get().needs_check


def test_a_batch_of_potassium_hydroxide_is_held_to_its_own_lye(world: World, visitor: Visitor) -> None:
    entry = formula_entry(
        naoh_share=Decimal(0), koh_purity=Decimal("0.9"), liquid=Decimal(600),
        lines=(*FATS, LineEntry(Role.LIQUID, key="water", per=Per.REST, goes_in="front")), confirmed=("may_be_caustic:-1",),
    )  # fmt: skip
    version = write_formula(actor=world.actor, entry=entry, at=world.now)
    sent = begin(visitor, version)
    # 3.742 mol x 0.94 x 56.106 / 0.9: more than any fat takes of NaOH, and right.
    assert (sent["lye_g"], sent["koh_g"]) == ("", "219.2")
    assert enter(visitor, sent).status_code == 302


def test_a_batch_entered_by_hand_is_what_it_was(world: World) -> None:
    batch = world.batch()
    assert (batch.version, batch.needs_check) == (None, False)


@pytest.mark.parametrize(("superfat", "needs_check"), [("0.02", True), ("0.08", False)])
def test_a_batch_typed_by_hand_under_the_name_of_a_formula_keeps_the_check_it_promised(
    world: World, visitor: Visitor, superfat: str, needs_check: bool
) -> None:
    """Who read that it may be caustic was told that each of its batches has to pass its check."""
    version = write_formula(actor=world.actor, entry=formula_entry(superfat=Decimal(superfat)), at=world.now)
    enter(visitor, begin(visitor, version), version="", formula_name=version.formula.name.upper())
    batch = Batch.objects.within(world.workshop).get()
    assert (batch.version, batch.formula) == (None, version.formula)
    assert (batch.needs_check, batch.check_by_formula) == (needs_check, needs_check)


def test_lines_of_a_copy_are_the_lines_of_what_was_copied(world: World, visitor: Visitor, version: FormulaVersion) -> None:
    form = visitor.get("formula_new", query=f"?like={version.pk}").context["form"]
    assert [row["amount"].value() for row in form.lines["fats"]] == ["700", "300"]
    assert [row["per"].value() for row in form.lines["liquids"]] == [LIQUIDS[0].per, LIQUIDS[1].per]


def test_a_liquid_of_one_s_own_goes_into_the_batch_under_its_name(world: World, visitor: Visitor) -> None:
    mare = world.material("Mare's milk", kind="liquid")
    facts = {"liquid_kind": "milk", "water_fraction": Decimal("0.9"), "fat_fraction": Decimal("0.02"),
             "sugar_fraction": Decimal("0.06")}  # fmt: skip
    write_facts(material=mare, entry=FactsEntry(**facts))
    own = LineEntry(Role.LIQUID, material=mare, per=Per.REST, goes_in="trace")
    version = write_formula(actor=world.actor, entry=formula_entry(lines=(*FATS, LIQUIDS[0], own)), at=world.now)
    sent = begin(visitor, version)
    assert (sent["liquids-1-kind"], sent["liquids-1-mass_g"], sent["liquids-1-water_pct"]) == ("Mare's milk", "170", "90")
    assert "type its water part" in text_of(enter(visitor, sent, **{"liquids-1-water_pct": ""}))
    assert enter(visitor, sent).status_code == 302
    batch = Batch.objects.within(world.workshop).get()
    assert [(one.kind, one.water_fraction) for one in batch.liquids.order_by("pk")][1] == ("Mare's milk", Decimal("0.9"))
    assert "Mare's milk at trace; 90 % water 170 g" in unescape(visitor.words("batch", batch.pk))
    # The milk's own fat counts: 3.4 g of it at about 231 mg KOH per g.
    assert batch.superfat_effective > batch.superfat_middle
