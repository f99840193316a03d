"""The page that says when bars of a pour are dry enough, and when to pour for bars by a day."""

from datetime import timedelta

import pytest
from django.urls import reverse

from curehouse.making.models import FormulaVersion
from curehouse.making.services.formulas import write_formula
from tests.formulas import formula_entry
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
    answer = visitor.get("version_ready", version.pk, query=f"?wanted_on={day(world, 80)}")
    lines = answer.context["view"].latest
    assert [line.sure for line in lines] == ["95 of 100", "80 of 100", "50 of 100"]
    # Surest first: that is the earliest day. Each leads to what the storeroom has for a run on it.
    hrefs = [line.href for line in lines]
    assert hrefs == sorted(hrefs)
    checked = visitor.client.get(hrefs[0])
    assert checked.status_code == 200
    assert checked.context["view"] is not None
    assert "safety check" in answer.content.decode()


def test_a_day_that_is_over_is_said_and_leads_nowhere(world: World, visitor: Visitor, version: FormulaVersion) -> None:
    answer = visitor.get("version_ready", version.pk, query=f"?wanted_on={day(world, 20)}")
    assert [(line.note, line.href) for line in answer.context["view"].latest] == [("that day is over", "")] * 3


def test_asked_of_a_pour_it_names_days_and_how_sure_they_are(world: World, visitor: Visitor, version: FormulaVersion) -> None:
    both = f"?pour_on={day(world, 3)}&wanted_on={day(world, 60)}"
    words = visitor.words("version_ready", version.pk, query=both)
    assert "cut 1 day later: 8 of 10 such batches are dry enough between" in words
    assert "of 100 are." in words
    assert "by then 95 of 100" in words
    assert "what is usual of such bars" in words
    early = f"?pour_on={day(world, 3)}&wanted_on={day(world, 20)}"
    assert "none is: that is before the least age" in visitor.words("version_ready", version.pk, query=early)


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("?pour_on=&wanted_on=", "Say on which day you pour, or by which day you want the bars."),
        ("?pour_on=2020-01-01", "Choose a day from today on"),
        ("?wanted_on=soon", "is not a day: choose one"),
        ("?pour_on=2026-04-02&wanted_on=2026-04-01", "wanted before they are poured"),
    ],
)
def test_days_that_cannot_be_are_answered_beside_their_field(
    visitor: Visitor, version: FormulaVersion, query: str, said: str
) -> None:
    answer = visitor.get("version_ready", version.pk, query=query)
    assert said in answer.content.decode()
    assert answer.context["view"] is None


def test_the_formula_the_check_and_the_run_lead_there(world: World, visitor: Visitor, version: FormulaVersion) -> None:
    there = reverse("web:version_ready", args=[version.pk])
    assert there in visitor.get("formula", version.formula_id).content.decode()
    asked = f"?fats_g=1000&pour_on={day(world, 9)}"
    assert f"{there}?pour_on={day(world, 9)}" in visitor.get("version_run", version.pk, query=asked).content.decode()
    visitor.post("version_run", version.pk, fats_g="1000", pour_on=day(world, 9), note="")
    run = version.runs.get()
    assert f"{there}?pour_on={day(world, 9)}" in visitor.get("run", run.pk).content.decode()
