"""What a maker sees and does of what is made from others: its recipe, a making, and the way from lot to bar."""

import re
from datetime import timedelta
from decimal import Decimal
from urllib.parse import urlencode

import pytest
from django.utils import timezone

from curehouse.common.time import local_day
from curehouse.flows.stock import rule_lot, write_off
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.making.formulas.entries import LineEntry, Role
from curehouse.making.services.formulas import write_formula
from inventory.models import Blend, Lot, Making, MakingTake, Material
from tests.flows.test_lye_in_water import Dissolving
from tests.formulas import LIQUIDS, fat, formula_entry, liquid
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


def words_of(visitor: Visitor, name: str, *args: object, **query: str) -> str:
    return " ".join(visitor.words(name, *args, query=f"?{urlencode(query)}").split())


def made_by(material: Material, **typed: str) -> dict[str, str]:
    """Return a making as the page sends it that is shown now; what is not kept goes by its name."""
    blend = Blend.objects.within(material.workshop).in_force().get(material=material)
    unkept = {part.name: f"unkept_{part.pk}" for part in blend.parts.all() if part.material_id is None}
    return {"recipe": str(blend.pk), "standing": "released", **{unkept.get(name, name): text for name, text in typed.items()}}


def test_a_maker_writes_a_recipe_makes_lye_beforehand_and_sees_a_run_take_it(world: World) -> None:
    visitor = Visitor(world)
    lye, solution = world.material("Sodium hydroxide", kind="lye"), world.material("Lye solution", kind="lye")
    dry = world.lot("2000", material=lye)
    fields = {
        "material_0": str(lye.pk),
        "parts_0": "1",
        "name_1": "water",
        "parts_1": "1",
        "yielded": "100",
        "keeps_days": "30",
    }
    assert visitor.post("material_recipe", solution.pk, **fields).status_code == 302
    page = words_of(visitor, "material", solution.pk)
    assert "Made from" in page
    assert "not kept in the storeroom" in page
    assert "stays as dangerous" in page
    asked = words_of(visitor, "material_make", solution.pk, made_g="700")
    assert "never water onto lye" in asked
    assert f"Lot {dry.number}" in asked
    taken = {f"lot_{dry.pk}": "350", "water": "350", "made_g": "700", "why": "clear, labelled"}
    assert visitor.post("material_make", solution.pk, **made_by(solution, **taken)).status_code == 302
    making = Making.objects.within(world.workshop).select_related("lot").get()
    made_on = local_day(making.made_at, world.workshop.time_zone)
    assert making.lot.best_before == made_on + timedelta(days=30)
    lot_page = words_of(visitor, "lot", making.lot.pk)
    assert "700 g by Lye solution, recipe 1" in lot_page
    assert "In 100 g of it stand 50 g of Sodium hydroxide, by what was weighed." in lot_page
    assert str(making.lot) in words_of(visitor, "lot", dry.pk)
    world.lot("5000", material=world.material("Olive oil"))
    olive = world.lot("9000").material
    lines = (fat("olive", "1000", material=olive), *LIQUIDS)
    version = write_formula(actor=world.actor, entry=formula_entry(lines=lines, naoh_from=lye), at=world.now)
    day = Lot.objects.within(world.workshop).get(pk=making.lot.pk).received_on + timedelta(days=3)
    found = words_of(visitor, "version_run", version.pk, fats_g="2000", pour_on=day.isoformat())
    assert f"enough of lot {making.lot.number}, in place of all the" in found
    assert "of Sodium hydroxide that would be weighed dry" in found
    assert "of that lot 700 g here" in found


def test_a_batch_says_what_is_in_the_mix_it_took(world: World) -> None:
    visitor = Visitor(world)
    lavender, mix = (world.material(name, kind="fragrance") for name in ("Lavender oil", "Meadow mix"))
    plain = world.lot("500", material=lavender)
    assert visitor.post("material_recipe", mix.pk, material_0=str(lavender.pk), parts_0="1", yielded="100").status_code == 302
    taken = {f"lot_{plain.pk}": "100", "made_g": "100"}
    assert visitor.post("material_make", mix.pk, **made_by(mix, **taken)).status_code == 302
    made, batch = Making.objects.within(world.workshop).get().lot, world.batch()
    at = made.written_at
    book_use(actor=world.actor, batch=batch, lines=[UseLine(made, Decimal(20))], used_at=at, at=at)
    assert f"Made from {plain}" in words_of(visitor, "batch", batch.pk)
    assert str(batch) in words_of(visitor, "lot", plain.pk)


def test_what_is_wrong_is_said_beside_its_field(world: World) -> None:
    visitor = Visitor(world)
    oil, mix = (world.material(name, kind="fragrance") for name in ("Lavender oil", "Meadow mix"))
    page = visitor.post("material_recipe", mix.pk, material_0=str(oil.pk), yielded="100")
    assert "How many parts by mass?" in page.content.decode()
    assert visitor.get("material_make", mix.pk).status_code == 302, "there is no recipe yet"
    visitor.post("material_recipe", mix.pk, material_0=str(oil.pk), parts_0="1", yielded="100")
    assert "No lot of it is in order" in words_of(visitor, "material_make", mix.pk, made_g="300")
    page = visitor.post("material_make", mix.pk, **made_by(mix, made_g="300"))
    assert "Nothing of Lavender oil went in" in page.content.decode()


def test_fats_are_not_mixed_and_lye_goes_into_water_alone(world: World) -> None:
    visitor = Visitor(world)
    names = {
        "Sodium hydroxide": "lye",
        "Lye solution": "lye",
        "Shea butter": "fat",
        "Oat milk": "liquid",
        "Meadow mix": "fragrance",
    }
    rows = {name: world.material(name, kind=kind) for name, kind in names.items()}
    world.material("Lavender oil", kind="fragrance")
    world.lot("500", material=rows["Sodium hydroxide"])
    for name in ("Sodium hydroxide", "Shea butter", "Oat milk"):
        assert "Made from others?" not in words_of(visitor, "material", rows[name].pk)
    for name in ("Lye solution", "Meadow mix"):
        assert "Made from others?" in words_of(visitor, "material", rows[name].pk)
    asked = words_of(visitor, "material_recipe", rows["Meadow mix"].pk)
    assert "Lavender oil" in asked
    assert not any(name in asked for name in ("Sodium hydroxide", "Shea butter", "Oat milk"))
    solved = words_of(visitor, "material_recipe", rows["Lye solution"].pk)
    assert "Sodium hydroxide" in solved
    assert "Lavender oil" not in solved
    assert "never water onto lye" in solved
    mix = {"material_0": "", "name_0": "NaOH", "parts_0": "1", "yielded": "100"}
    assert visitor.post("material_recipe", rows["Meadow mix"].pk, **mix).status_code != 302
    lye = {"material_0": str(rows["Sodium hydroxide"].pk), "parts_0": "2", "name_1": "water", "parts_1": "1", "yielded": "100"}
    page = visitor.post("material_recipe", rows["Lye solution"].pk, **lye).content.decode()
    assert "take more water" in page
    assert not Blend.objects.within(world.workshop).exists()
    assert Material.objects.within(world.workshop).get(pk=rows["Meadow mix"].pk).kind == "fragrance"


def test_the_sheet_offers_what_is_dissolved_and_a_weight_off_its_recipe_is_asked_about(world: World) -> None:
    visitor = Visitor(world)
    lye, solution = world.material("Sodium hydroxide", kind="lye"), world.material("Lye solution", kind="lye")
    dry = world.lot("2000", material=lye)
    recipe = {"material_0": str(lye.pk), "parts_0": "1", "name_1": "water", "parts_1": "1", "yielded": "100"}
    assert visitor.post("material_recipe", solution.pk, **recipe).status_code == 302
    sent = made_by(solution, **{f"lot_{dry.pk}": "244", "water": "256", "made_g": "500"})
    page = visitor.post("material_make", solution.pk, **sent)
    assert "Was it really weighed so?" in page.content.decode()
    assert not Making.objects.within(world.workshop).exists()
    (confirmed,) = re.findall(r'name="off_confirmed" value="([^"]+)"', page.content.decode())
    again = visitor.post("material_make", solution.pk, **{**sent, "water": "", "off_confirmed": confirmed, "made_g": "510"})
    assert again.status_code != 302, "other weights are asked about again"
    assert visitor.post("material_make", solution.pk, **sent, off_confirmed=confirmed).status_code == 302
    olive = world.material("Olive oil", kind="fat")
    world.lot("5000", material=olive)
    lines = (fat("olive", "1000", material=olive), liquid("water", "330"))
    version = write_formula(
        actor=world.actor, entry=formula_entry(lines=lines, naoh_from=lye, liquid=Decimal(330)), at=world.now
    )
    sheet = words_of(visitor, "formula_version", version.pk)
    assert "or Lye solution, lot" in sheet
    assert "in place of the dry lye, never beside it" in sheet
    assert "so weigh only" in sheet
    assert "not 330.0 g" in sheet
    assert "At the pour say" in sheet
    # The water's own row says it too: the full water is for the dry lye.
    assert "with the dry lye; with Lye solution, lot" in sheet
    assert "for it brings the rest" in sheet
    page = words_of(visitor, "material", solution.pk)
    assert "Make some" in page
    assert "Receive a lot" not in page, "it is dissolved here and bought from nobody"
    assert "Receive a lot" in words_of(visitor, "material", lye.pk)


def test_every_jug_that_may_serve_stands_on_the_sheet_the_first_expired_first(
    world: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("django.utils.timezone.now", lambda: world.now)
    bench, visitor = Dissolving(world), Visitor(world)
    lots = [bench.dissolve("300", "300").lot for _jug in range(5)]
    spent = bench.dissolve("20", "20").lot
    version = bench.soap()
    sheet = words_of(visitor, "formula_version", version.pk)
    places = [sheet.index(f"or {lot}") for lot in lots]
    assert places == sorted(places)
    assert f"or {spent}" in sheet
    assert "not for this one: there is not enough of it" in sheet
    assert "less with lye that is dissolved, which brings water: how much stands below" in sheet


def test_lye_that_did_not_all_dissolve_waits_and_the_page_says_why(world: World) -> None:
    visitor = Visitor(world)
    lye, solution = world.material("Sodium hydroxide", kind="lye"), world.material("Lye solution", kind="lye")
    dry = world.lot("2000", material=lye)
    recipe = {"material_0": str(lye.pk), "parts_0": "1", "name_1": "water", "parts_1": "1", "yielded": "100"}
    assert visitor.post("material_recipe", solution.pk, **recipe).status_code == 302
    sent = made_by(solution, **{f"lot_{dry.pk}": "300", "water": "250", "made_g": "550"})
    asked = visitor.post("material_make", solution.pk, **sent).content.decode()
    (confirmed,) = re.findall(r'name="off_confirmed" value="([^"]+)"', asked)
    assert visitor.post("material_make", solution.pk, **sent, off_confirmed=confirmed).status_code == 302
    lot = Making.objects.within(world.workshop).get().lot
    assert "It waits in quarantine all the same: more lye than so much water" in words_of(visitor, "lot", lot.pk)


def test_the_sheet_says_what_a_mix_is_made_of_where_there_is_not_enough(world: World) -> None:
    visitor = Visitor(world)
    oil, cedar, mix = (world.material(name, kind="fragrance") for name in ("Lavender oil", "Cedar oil", "Meadow mix"))
    recipe = {"material_0": str(oil.pk), "parts_0": "3", "material_1": str(cedar.pk), "parts_1": "1", "yielded": "100"}
    assert visitor.post("material_recipe", mix.pk, **recipe).status_code == 302
    olive = world.material("Olive oil", kind="fat")
    world.lot("5000", material=olive)
    lines = (fat("olive", "1000", material=olive), *LIQUIDS, LineEntry(Role.FRAGRANCE, material=mix, amount=Decimal(20)))
    version = write_formula(actor=world.actor, entry=formula_entry(lines=lines), at=world.now)
    said = "mixed beforehand, and none of it is here: 15.0 g of Lavender oil, 5.0 g of Cedar oil"
    assert said in words_of(visitor, "formula_version", version.pk)
    taken = {f"lot_{world.lot('100', material=oil).pk}": "9", f"lot_{world.lot('100', material=cedar).pk}": "3", "made_g": "12"}
    assert visitor.post("material_make", mix.pk, **made_by(mix, **taken)).status_code == 302
    said = "8.0 g of it are to be mixed: 6.0 g of Lavender oil, 2.0 g of Cedar oil"
    assert said in words_of(visitor, "formula_version", version.pk)


class Mixing:
    """Lavender and spirit to be mixed, two lots of lavender at hand, and the page that proposes them open."""

    def __init__(self, world: World) -> None:
        self.world, self.visitor = world, Visitor(world)
        self.oil, self.mix = (world.material(name, kind="fragrance") for name in ("Lavender oil", "Meadow mix"))
        self.first, self.other = world.lot("100", material=self.oil), world.lot("2000", material=self.oil)
        self.recipe("spirit", "rose water")

    def recipe(self, *unkept: str) -> None:
        names = {f"name_{place}": name for place, name in enumerate(unkept, 1)}
        parts = {f"parts_{place}": "1" for place in range(len(unkept) + 1)}
        sent = {"material_0": str(self.oil.pk), "yielded": "100", **names, **parts}
        assert self.visitor.post("material_recipe", self.mix.pk, **sent).status_code == 302

    def send(self, fields: dict[str, str]) -> str:
        """Send the page; return its words where it is shown again, and nothing where what was made is booked."""
        answer = self.visitor.post("material_make", self.mix.pk, **fields)
        return "" if answer.status_code == 302 else answer.content.decode()

    @property
    def takes(self) -> dict[str, int]:
        rows = MakingTake.objects.within(self.world.workshop).select_related("movement__lot")
        return {row.name if row.movement is None else f"{row.movement.lot}": int(row.amount_g) for row in rows}


@pytest.fixture
def mixing(world: World) -> Mixing:
    return Mixing(world)


@pytest.mark.parametrize("what", ["quarantine", "used up"])
def test_a_lot_that_is_out_of_order_since_it_was_proposed_is_not_left_out_unsaid(mixing: Mixing, what: str) -> None:
    world, first, other = mixing.world, mixing.first, mixing.other
    typed = {f"lot_{first.pk}": "100", f"lot_{other.pk}": "50", "spirit": "150", "rose water": "150", "made_g": "350"}
    fields = made_by(mixing.mix, **typed)
    if what == "quarantine":
        rule_lot(actor=world.actor, lot=first, standing="quarantine", why="smells odd", at=world.now)
    else:
        lost = {"amount": Decimal(100), "reason": "spilt"}
        write_off(actor=world.actor, lot=first, moment=timezone.now(), at=timezone.now(), **lost)
    page = mixing.send(fields)
    assert f"Lot {first.number} is {'in quarantine' if what == 'quarantine' else 'used up'}" in page
    for name in (f"lot_{first.pk}", f"lot_{other.pk}"):
        assert f'name="{name}" value="{fields[name]}"' in page, "what was typed stays"
    assert mixing.takes == {}
    assert mixing.send({**fields, f"lot_{first.pk}": "", f"lot_{other.pk}": "150"}) == ""
    assert mixing.takes == {f"{other}": 150, "spirit": 150, "rose water": 150}


def test_a_weight_is_never_booked_as_another_part_than_it_was_typed_for(mixing: Mixing) -> None:
    typed = {f"lot_{mixing.first.pk}": "100", "spirit": "100", "rose water": "99", "made_g": "250"}
    fields = made_by(mixing.mix, **typed)
    mixing.recipe("rose water", "vodka")
    page = mixing.send(fields)
    assert "was written anew since this was shown" in page
    assert "spirit is no part of it any more; 100 was typed of it" in page
    assert mixing.takes == {}
    now = made_by(mixing.mix, **{"rose water": "99", "vodka": "97"})
    shown = {name: re.search(f'name="{name}"( value="([^"]*)")?', page) for name in now if name.startswith("unkept")}
    assert [found and found[2] for found in shown.values()] == ["99", None], "rose water kept its weight, vodka has none"
    assert f'name="recipe" value="{now["recipe"]}"' in page
    assert mixing.send({**fields, **now}) == ""
    assert mixing.takes == {f"{mixing.first}": 100, "rose water": 99, "vodka": 97}


def test_a_page_that_does_not_say_by_which_recipe_books_nothing(mixing: Mixing) -> None:
    fields = made_by(mixing.mix, **{f"lot_{mixing.first.pk}": "100", "spirit": "100", "rose water": "99", "made_g": "250"})
    assert "was written anew" in mixing.send({name: text for name, text in fields.items() if name != "recipe"})
    assert mixing.takes == {}


def test_lye_that_may_dry_unseen_is_refused_and_one_who_asks_is_told_why(world: World) -> None:
    visitor = Visitor(world)
    names = ("Sodium hydroxide", "Lye solution", "Potassium hydroxide", "Other solution")
    lye, solution, koh, other = (world.material(name, kind="lye") for name in names)
    recipe = {"parts_0": "1", "name_1": "water", "yielded": "100"}
    page = visitor.post("material_recipe", solution.pk, **recipe, material_0=str(lye.pk), parts_1="2").content.decode()
    assert "In 100 g of it have to be 49 g of Sodium hydroxide at least" in page
    assert "Water dries out of lye that is thinner" in page
    page = visitor.post("material_recipe", other.pk, **recipe, material_0=str(koh.pk), parts_1="1").content.decode()
    assert "Potassium hydroxide is not dissolved beforehand" in page
    assert not Blend.objects.within(world.workshop).exists()


def test_a_lot_that_is_too_thin_says_so(world: World) -> None:
    visitor = Visitor(world)
    lye, solution = world.material("Sodium hydroxide", kind="lye"), world.material("Lye solution", kind="lye")
    dry = world.lot("2000", material=lye)
    recipe = {"material_0": str(lye.pk), "parts_0": "1", "name_1": "water", "parts_1": "1", "yielded": "100"}
    assert visitor.post("material_recipe", solution.pk, **recipe).status_code == 302
    sent = made_by(solution, **{f"lot_{dry.pk}": "200", "water": "300", "made_g": "500"})
    asked = visitor.post("material_make", solution.pk, **sent).content.decode()
    (confirmed,) = re.findall(r'name="off_confirmed" value="([^"]+)"', asked)
    assert visitor.post("material_make", solution.pk, **sent, off_confirmed=confirmed).status_code == 302
    lot = Making.objects.within(world.workshop).get().lot
    assert "It is weighed out for nothing" in (
        page := words_of(visitor, "lot", lot.pk).replace("it is weighed", "It is weighed")
    )
    assert "water may have dried out of it unseen" in page


def test_what_came_of_lye_is_weighed_and_not_proposed(world: World) -> None:
    visitor = Visitor(world)
    rows = [world.material(name, kind="lye") for name in ("Sodium hydroxide", "Lye solution")]
    rows += [world.material(name, kind="fragrance") for name in ("Lavender oil", "Meadow mix")]
    for part, made in (rows[:2], rows[2:]):
        world.lot("2000", material=part)
        recipe = {"material_0": str(part.pk), "parts_0": "1", "name_1": "water", "parts_1": "1", "yielded": "100"}
        assert visitor.post("material_recipe", made.pk, **recipe).status_code == 302
    came = {made: _typed(visitor, made, "made_g", label="Came of it") for made in (rows[1], rows[3])}
    assert came == {rows[1]: "", rows[3]: "300"}


def _typed(visitor: Visitor, made: Material, name: str, *, label: str) -> str:
    """Return what stands in a field of the page that asks what went in, behind its label."""
    page = visitor.get("material_make", made.pk, query="?made_g=300").content.decode()
    (field,) = re.findall(rf'<input[^>]*name="{name}"[^>]*>', page[page.index(label) :])
    found = re.search(r'value="([^"]*)"', field)
    return "" if found is None else found[1]
