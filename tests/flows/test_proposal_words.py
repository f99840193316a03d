"""Why something would be ordered, in words: every figure is said, and none that means nothing."""

from datetime import date
from types import SimpleNamespace
from typing import Any

import pytest

from curehouse.flows.proposal_words import Money, line_words, percent
from inventory.models import Material

DAY = date(2026, 3, 10)
WHY = {
    "days": 12, "planned": [], "unplanned_half": 1200.0, "unplanned_most": 3100.0, "here": 900.0, "lead_half": 7,
    "lead_most": 9, "risk": 0.31, "risk_after": 0.0004, "risk_accepted": 0.021, "lasts_days": 80.0, "expires": 0.0,
    "next_expires": 0.0, "last_day": 0,
}  # fmt: skip


def words(
    because: str = "due",
    packs: int = 2,
    runs: dict[int, Any] | None = None,
    freight: dict[str, Any] | None = None,
    money: Money | None = lambda amount: f"{amount} EUR",
    **why: Any,
) -> str:
    line = {"packs": packs, "because": because, "freight": freight, "why": {**WHY, **why}}
    oil = Material(name="Olive oil")
    said = line_words(line, oil, runs or {}, day=DAY, today=DAY, said=lambda quantity, _of: f"{quantity:g} g", money=money)
    return " ".join(said)


def test_what_is_due_says_the_chance_and_what_is_accepted() -> None:
    said = words()
    for one in (
        "not be enough with a chance of 31 %",
        "with this order less than 0.1 % remains, as it may be used up before this comes",
        "2.1 % is worth living with",
        "good until it is used: 900 g", "as likely as not 1200 g, with 9 chances of 10 no more than 3100 g",
        "come within 7 days, 9 of 10 within 9 days", "2 packs last with what is here until about",
    ):  # fmt: skip
        assert one in said, one


def test_planned_runs_are_named_with_what_they_take() -> None:
    run = SimpleNamespace(formula=SimpleNamespace(name="Castile"))
    planned = [{"run": 4, "day": 3, "amount": 700.0}, {"run": 5, "day": 4, "amount": 300.0}]
    assert ": 1000 g (Castile 700 g, Castile 300 g)." in words(planned=planned, runs={4: run, 5: run})
    assert "No run that takes it is planned until" in words()


@pytest.mark.parametrize(
    ("because", "said"),
    [("joins", "comes along"), ("freight", "where freight is free"), ("fresh", "bought for runs that have their day")],
)
def test_each_reason_has_its_words(because: str, said: str) -> None:
    assert said in words(because)


def test_what_expires_is_said_where_it_is_something() -> None:
    assert "expire" not in words()
    assert "400 g of it would expire unused" in words(expires=400.0)
    assert "of one more, most would expire" in words(next_expires=0.8)
    assert "One pack lasts" in words(packs=1)


FREIGHT = {"packs": 0, "costs": "8.50", "free_from": "120.00", "is_free": True}


@pytest.mark.parametrize(
    ("freight", "said"),
    [
        ({"packs": 2}, "2 of 5 packs are ordered only so that the freight{8.50 EUR} falls away from {120.00 EUR} on."),
        ({"packs": 1}, "1 of 5 packs is ordered only so that the freight{8.50 EUR} falls away"),
        ({"packs": 5}, "All 5 packs are ordered only so that the freight{8.50 EUR} falls away"),
        ({}, "The freight{8.50 EUR} falls away from {120.00 EUR} on, and the order comes to that: no pack of it is ordered"),
        ({"is_free": None}, "The freight{8.50 EUR} falls away from {120.00 EUR} on: no pack of it is ordered for that."),
        ({"is_free": False}, "Freight{8.50 EUR} is asked. It falls away from {120.00 EUR} on, but filling the order up to"),
        ({"is_free": False, "free_from": None}, "Freight{8.50 EUR} is asked however much is ordered."),
    ],
)  # fmt: skip
def test_a_line_says_what_it_does_for_the_freight_and_sums_to_those_who_see_costs(freight: dict[str, Any], said: str) -> None:
    seen = said.replace("{8.50 EUR}", " of 8.50 EUR").replace("{120.00 EUR}", "goods of 120.00 EUR")
    assert seen in words(packs=5, freight={**FREIGHT, **freight})
    hidden = words(packs=5, freight={**FREIGHT, **freight}, money=None)
    assert said.replace("{8.50 EUR}", "").replace("{120.00 EUR}", "a sum of goods") in hidden
    assert "EUR" not in hidden
    assert "reight" not in words(packs=5)


@pytest.mark.parametrize(
    ("chance", "said"),
    [(0.0, "less than 0.1 %"), (0.008, "0.8 %"), (0.0996, "10 %"), (0.31, "31 %"), (0.995, "more than 99 %")],
)
def test_a_chance_is_said_to_two_figures(chance: float, said: str) -> None:
    assert percent(chance) == said


@pytest.mark.parametrize(
    ("known", "said"),
    [
        ({"seen": 4, "others": 3, "usual_days": 7.0, "is_assumed": False},
         "By 4 deliveries of it and 3 of other things from there: half of its deliveries come within 7 days, 9 of 10"),
        ({"seen": 1, "others": 0, "usual_days": 8.0, "is_assumed": True}, "By one delivery of it: half"),
        ({"seen": 0, "others": 3, "usual_days": 7.0, "is_assumed": False},
         "No delivery of it seen yet; by 3 of other things from there: half"),
        ({"seen": 0, "others": 0, "usual_days": 5.0, "is_assumed": False}, "No delivery seen yet, 5 days as they say: "),
        ({"seen": 0, "others": 0, "usual_days": 8.0, "is_assumed": True},
         "No delivery seen yet, 8 days assumed, for nobody said how long it takes: reckoned so that half would come"),
    ],
)  # fmt: skip
def test_how_long_it_takes_says_by_what_that_is_known(known: dict[str, Any], said: str) -> None:
    assert said in words(lead_from=known)
