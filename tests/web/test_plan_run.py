"""The page of a run that may be planned: asked backwards, and looked at from every side."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from curehouse.making.models import FormulaVersion, Run
from curehouse.making.services.formulas import write_formula
from curehouse.workshops.models import Member
from curehouse.workshops.roles import Role
from tests.formulas import LIQUIDS, fat, formula_entry
from tests.web.on_round import text_of
from tests.web.visitor import Visitor
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def visitor(world: World, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    monkeypatch.setattr("django.utils.timezone.now", lambda: world.now)
    return Visitor(world)


@pytest.fixture
def version(world: World) -> FormulaVersion:
    return write_formula(actor=world.actor, entry=formula_entry(name="Olive & oat"), at=world.now)


def day(world: World, days: int) -> str:
    return (world.now.date() + timedelta(days=days)).isoformat()


def test_asked_backwards_it_names_the_days_to_pour_by_and_leads_on_to_the_check(
    world: World, visitor: Visitor, version: FormulaVersion
) -> None:
    answer = visitor.get("version_run", version.pk, query=f"?wanted_on={day(world, 80)}")
    lines = answer.context["view"].latest
    assert [line.sure for line in lines] == ["95 of 100", "80 of 100", "50 of 100"]
    # Surest first: that is the earliest day. Each leads to what the run meets on it, with all that was typed.
    hrefs = [line.href for line in lines]
    assert hrefs == sorted(hrefs)
    looked = visitor.client.get(hrefs[0])
    assert looked.context["form"].cleaned_data["wanted_on"].isoformat() == day(world, 80)
    assert looked.context["view"].in_short
    assert "of 100 are." in text_of(looked)
    assert "safety check" in looked.content.decode()
    assert "Plan this run" in looked.content.decode()
    assert "Plan this run" not in answer.content.decode(), "without a day there is nothing to plan"


def test_a_day_that_is_over_is_said_and_leads_nowhere(world: World, visitor: Visitor, version: FormulaVersion) -> None:
    answer = visitor.get("version_run", version.pk, query=f"?wanted_on={day(world, 20)}")
    assert [(line.note, line.href) for line in answer.context["view"].latest] == [("that day is over", "")] * 3


def test_asked_of_a_pour_it_names_days_and_how_sure_they_are(world: World, visitor: Visitor, version: FormulaVersion) -> None:
    both = f"?pour_on={day(world, 3)}&wanted_on={day(world, 60)}"
    words = visitor.words("version_run", version.pk, query=both)
    assert "cut 1 day later: 8 of 10 such batches are dry enough between" in words
    assert "of 100 are." in words
    assert "by then 95 of 100" in words
    assert "what is usual of such bars" in words
    early = f"?pour_on={day(world, 3)}&wanted_on={day(world, 20)}"
    assert "none is: that is before the least age" in visitor.words("version_run", version.pk, query=early)


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("?pour_on=&wanted_on=", "Say on which day you pour, or by which day you want the bars."),
        ("?pour_on=2020-01-01", "This day is past: choose today or later"),
        ("?wanted_on=soon", "is not a day: choose one"),
        ("?pour_on=2026-04-02&wanted_on=2026-04-01", "wanted before they are poured"),
    ],
)
def test_days_that_cannot_be_are_answered_beside_their_field(
    visitor: Visitor, version: FormulaVersion, query: str, said: str
) -> None:
    answer = visitor.get("version_run", version.pk, query=query)
    assert said in answer.content.decode()
    assert answer.context["view"] is None


def test_the_formula_and_the_run_lead_there(world: World, visitor: Visitor, version: FormulaVersion) -> None:
    there = reverse("web:version_run", args=[version.pk])
    assert there in visitor.get("formula", version.formula_id).content.decode()
    visitor.post("version_run", version.pk, fats_g="1000", pour_on=day(world, 9), note="", bars="20", wanted_on="")
    run = version.runs.get()
    link = f"{there}?fats_g=1000&amp;pour_on={day(world, 9)}&amp;bars=20#dry-enough"
    assert link in visitor.get("run", run.pk).content.decode()


def stocked(world: World) -> FormulaVersion:
    """Return a formula whose oil and lye are kept in the storeroom, with a cost, and racks for its bars."""
    world.rack()
    olive, lye = world.material("Olive oil", kind="fat"), world.material("Sodium hydroxide", kind="lye")
    world.lot("5000", material=olive, unit_cost=Decimal("0.005"))
    world.lot("5000", material=lye, unit_cost=Decimal("0.006"))
    entry = formula_entry(name="Plain olive", lines=(fat("olive", "1000", material=olive), *LIQUIDS), naoh_from=lye)
    return write_formula(actor=world.actor, entry=entry, at=world.now)


def test_one_page_says_in_short_what_a_run_meets_and_plans_it(world: World, visitor: Visitor) -> None:
    version = stocked(world)
    query = f"?fats_g=2000&bars=30&pour_on={day(world, 5)}&wanted_on={day(world, 70)}"
    answer = visitor.get("version_run", version.pk, query=query)
    said = {one.name: one.says for one in answer.context["view"].in_short}
    assert said["Storeroom"] == "Everything that is kept in the storeroom is there on Sun 15 Mar."
    assert said["Racks"].startswith("There is room. 30 bars, from the cut on Mon 16 Mar until")
    assert "8 of 10 such batches are dry enough between" in said["Dry enough"]
    assert "By Tue 19 May about" in said["Dry enough"]
    # 2,000 g at 0.005 are 10.00; the lye, of which the formula says how much, is 0.006 a gram.
    lye_g = float(answer.context["view"].cost.lines[1].takes.removesuffix(" g"))
    whole = 10 + 0.006 * lye_g
    assert said["Cost"] == f"{whole / 30:.2f} EUR a bar, {whole:.2f} EUR in all, 1 thing not in it."
    assert answer.context["view"].cost.without == "Not in it: goat's milk."
    assert said["First day for all of it"].startswith("Sun 15 Mar: everything is safely there")
    drawn = answer.content.decode()
    for one in answer.context["view"].in_short:
        assert f'id="{one.href.removeprefix("#")}"' in drawn, "each sentence leads to its part"
    visitor.post("version_run", version.pk, fats_g="2000", bars="30", pour_on=day(world, 5), wanted_on=day(world, 70), note="")
    run = version.runs.get()
    assert (run.bars, run.pour_on.isoformat()) == (30, day(world, 5))


def test_who_sees_no_costs_is_told_none(world: World, visitor: Visitor) -> None:
    version = stocked(world)
    query = f"?fats_g=2000&bars=30&pour_on={day(world, 5)}"
    Member.objects.within(world.workshop).filter(user=world.owner).update(role=Role.HELPER)
    words = visitor.words("version_run", version.pk, query=query)
    assert "EUR" not in words
    assert "Where its bars would stand" in words
    assert "Plan this run" not in words


def test_a_day_is_asked_for_and_what_nobody_knows_is_said_in_its_part(world: World, visitor: Visitor) -> None:
    version = stocked(world)
    planned = visitor.post("version_run", version.pk, fats_g="2000", pour_on="", wanted_on=day(world, 70), note="")
    assert "The day of the pour is missing: choose a day." in text_of(planned)
    assert not Run.objects.within(world.workshop).exists()
    words = visitor.words("version_run", version.pk, query=f"?fats_g=2000&pour_on={day(world, 5)}")
    assert "Nobody knows how many bars it gives, for no batch of it was cut yet: say how many." in words
    assert "EUR in all; how many bars that makes is not known." in words
    assert "8 of 10 such batches" in words
