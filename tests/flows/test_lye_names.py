"""By what name lye and its strength go: no figure is silently not counted, and no new name makes it another lye."""

from decimal import Decimal

import pytest

from curehouse.common.errors import Invalid
from curehouse.flows.stock import edit_material, record_value
from curehouse.making.formulas.solutions import dissolved_of
from inventory.services.things import MaterialEntry
from tests.flows.test_lye_in_water import Dissolving, refused
from tests.world import World

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("lye_in_water")]


@pytest.fixture
def bench(world: World) -> Dissolving:
    return Dissolving(world)


@pytest.mark.parametrize("name", ["Strength", "Concentration", "titration", "NaOH", "Purity", "Assay"])
def test_a_titration_counts_whatever_it_is_called(bench: Dissolving, name: str) -> None:
    lot = bench.dissolve().lot
    said = {"actor": bench.world.actor, "lot": lot, "name": name, "unit": "%", "at": bench.world.now}
    refused("value_doubtful", lambda: record_value(value=Decimal(54), **said))
    refused("purity", lambda: record_value(value=Decimal("0.54"), **said), Invalid)
    record_value(value=Decimal(54), value_confirmed=True, **said)
    found = dissolved_of(bench.world.workshop, [lot])[lot.pk]
    assert found is not None
    assert found.said is not None
    assert found.said.middle == pytest.approx(0.54)


def test_what_a_certificate_says_of_dry_lye_beside_its_purity_is_no_purity(bench: Dissolving) -> None:
    """Potassium hydroxide holds some sodium hydroxide, and its certificate says how much."""
    lot = bench.world.lot("1000", material=bench.world.material("Potassium hydroxide", kind="lye"))
    asked = {"actor": bench.world.actor, "lot": lot, "unit": "%", "at": bench.world.now}
    record_value(name="NaOH", value=Decimal("0.5"), **asked)
    record_value(name="Purity", value=Decimal(90), **asked)


def test_what_is_dissolved_stays_the_same_lye_by_its_name(bench: Dissolving) -> None:
    bench.dissolve()
    for row, name in ((bench.lye, "Potassium hydroxide"), (bench.lye, "Crystals"), (bench.solution, "KOH solution")):
        entry = MaterialEntry(name, "lye")
        said = refused("other_lye", lambda row=row, entry=entry: edit_material(material=row, entry=entry, at=bench.world.now))
        assert "name" in said
    for row, name in ((bench.lye, "Caustic soda"), (bench.solution, "NaOH solution, half"), (bench.solution, "Ready lye")):
        assert edit_material(material=row, entry=MaterialEntry(name, "lye"), at=bench.world.now).name == name
