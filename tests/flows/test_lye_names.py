"""By what name lye and its strength go: no figure is silently not counted, and no new name makes it another lye."""

from decimal import Decimal

import pytest

from curehouse.common.errors import Invalid
from curehouse.flows.stock import edit_material, record_value
from curehouse.making.formulas.known import figures_of
from curehouse.making.formulas.solutions import dissolved_of
from inventory.services.things import MaterialEntry
from tests.flows.test_lye_in_water import Dissolving, refused
from tests.world import World

pytestmark = pytest.mark.django_db


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


@pytest.mark.parametrize(("lye", "name", "other"), [
    ("Potassium hydroxide", "KOH content", "NaOH content"), ("Caustic soda", "NaOH content", "KOH content"),
])  # fmt: skip
@pytest.mark.parametrize("percent", ["0.5", "60", "99.8"])
def test_how_much_of_the_other_alkali_is_in_it_is_no_purity(
    bench: Dissolving, lye: str, name: str, other: str, percent: str
) -> None:
    world = bench.world
    lot = world.lot("1000", material=world.material(lye, kind="lye"))
    asked = {"actor": world.actor, "lot": lot, "unit": "%", "at": world.now}
    record_value(name=other, value=Decimal(percent), **asked)
    assert figures_of(world.workshop, [lot])[lot.pk].figures == {}
    record_value(name=name, value=Decimal(96), **asked)
    assert figures_of(world.workshop, [lot])[lot.pk].figures == {"purity": 96}


def test_a_titration_of_the_other_alkali_says_nothing_of_a_solution(bench: Dissolving) -> None:
    lot = bench.dissolve().lot
    record_value(actor=bench.world.actor, lot=lot, name="KOH", value=Decimal("0.5"), unit="%", at=bench.world.now)
    found = dissolved_of(bench.world.workshop, [lot])[lot.pk]
    assert found is not None
    assert found.said is None


def test_what_is_dissolved_stays_the_same_lye_by_its_name(bench: Dissolving) -> None:
    bench.dissolve()
    for row, name in ((bench.lye, "Potassium hydroxide"), (bench.lye, "Crystals"), (bench.solution, "KOH solution")):
        entry = MaterialEntry(name, "lye")
        said = refused("other_lye", lambda row=row, entry=entry: edit_material(material=row, entry=entry, at=bench.world.now))
        assert "name" in said
    for row, name in ((bench.lye, "Caustic soda"), (bench.solution, "NaOH solution, half"), (bench.solution, "Ready lye")):
        assert edit_material(material=row, entry=MaterialEntry(name, "lye"), at=bench.world.now).name == name
