"""A material that is to be another row of the list than its name says: asked about on its page, by the API, in a list."""

from pathlib import Path
from typing import Any

import pytest

from curehouse.making.models import MaterialFacts
from curehouse.making.services.facts import FactsEntry, write_facts
from inventory.models import Material
from tests.flows.bring_in.logs import write_csv
from tests.flows.bring_in.test_bring_formulas import bring
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db

SAYS = "Olive oil is called like olive oil (184 to 196 mg KOH per g), and is to count as coconut oil (248 to 265 mg KOH per g)."


@pytest.fixture
def visitor(world: World) -> Visitor:
    return Visitor(world)


def key_of(world: World, oil: Material) -> str:
    return "".join(MaterialFacts.objects.within(world.workshop).filter(material=oil).values_list("key", flat=True))


def test_the_page_asks_with_both_figures_and_keeps_what_was_read(world: World, visitor: Visitor) -> None:
    oil = world.material("Olive oil")
    page = visitor.post("material_facts", oil.pk, key="coconut").content.decode()
    assert SAYS in page
    assert key_of(world, oil) == ""
    assert 'name="key_confirmed" value="coconut"' in page
    # What was read of one row is not read of another.
    again = visitor.post("material_facts", oil.pk, key="palm", key_confirmed="coconut").content.decode()
    assert "palm oil (190 to 209" in again
    assert key_of(world, oil) == ""
    assert visitor.post("material_facts", oil.pk, key="coconut", key_confirmed="coconut").status_code == 302
    assert key_of(world, oil) == "coconut"
    # What is kept already is not asked about with every other figure.
    assert visitor.post("material_facts", oil.pk, key="coconut", source="the mill").status_code == 302


def test_a_row_that_the_name_agrees_with_or_says_nothing_of_is_not_asked_about(world: World, visitor: Visitor) -> None:
    for name, key in (("Olive oil, organic", "olive"), ("Oil of the mill", "coconut"), ("Rapeseed oil", "rapeseed")):
        oil = world.material(name)
        assert visitor.post("material_facts", oil.pk, key=key).status_code == 302
        assert key_of(world, oil) == key


def test_a_list_of_materials_names_the_row(world: World, tmp_path: Path, settings: Any) -> None:
    settings.DATA_FOLDER = tmp_path / "house"
    settings.DATA_FOLDER.mkdir()
    head = ("Material", "Kind", "In the list")
    outcome = bring(world, "materials", write_csv(tmp_path / "m.csv", head, (("Olive oil", "fat", "coconut oil"),)))
    assert SAYS in " ".join(one.why for one in outcome.refusals)
    assert not Material.objects.within(world.workshop).filter(name="Olive oil").exists()
    # What is here like that already comes again without a word.
    write_facts(material=world.material("Olive oil"), entry=FactsEntry(key="coconut"))
    assert bring(world, "materials", write_csv(tmp_path / "m2.csv", head, (("Olive oil", "fat", "coconut oil"),))).adds_nothing
