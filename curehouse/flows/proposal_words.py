"""Why the house would order something, in words: what goes, what is here, what is risked, how long it lasts."""

from collections.abc import Callable, Mapping
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from curehouse.common.time import day_words
from curehouse.making.models import Run
from inventory.models import Material

# How an amount that was reckoned is said, and money; to whoever sees no costs no money is said.
Said = Callable[[float, Material], str]
Money = Callable[[Decimal], str]
_MOST_RUNS = 4
# From here on a further pack is said to be thrown away for the most part.
_MOSTLY = 0.5


def line_words(
    line: Mapping[str, Any],
    material: Material,
    runs: Mapping[int, Run],
    *,
    day: date,
    today: date,
    said: Said,
    money: Money | None,
) -> list[str]:
    """Return the sentences of one line of a proposal that was worked out on *day*."""
    why = line["why"]

    def amount(quantity: float) -> str:
        return said(quantity, material)

    until = day_words(day + timedelta(days=why["days"]), today=today)
    return [
        because_words(line["because"], why),
        f"Here or on its way, and good until it is used: {amount(why['here'])}.",
        _planned(why["planned"], runs, until, amount),
        f"Not planned yet, until {until}: as likely as not {amount(why['unplanned_half'])}, "
        f"with 9 chances of 10 no more than {amount(why['unplanned_most'])}.",
        _comes(why),
        _lasts(line, why, amount, day=day, today=today),
        *freight_words(line, money),
    ]


def because_words(because: str, why: Mapping[str, Any]) -> str:
    """Return why a line of a proposal stands there, in short."""
    chance = f"If nothing is ordered now, it will not be enough with a chance of {percent(why['risk'])}"
    if because == "due":
        return (
            f"{chance}; with this order {percent(why['risk_after'])} remains, as it may be used up before this comes. "
            f"{percent(why['risk_accepted'])} is worth living with."
        )
    if because == "joins":
        return f"It would likely be due soon: it comes along, and saves an order of its own. {chance}."
    if because == "fresh":
        return "It does not keep: bought for runs that have their day, and for nothing else."
    return f"It fills the order up to where freight is free. {chance}."


def freight_words(line: Mapping[str, Any], money: Money | None) -> list[str]:
    """Return what a line does for the freight, in a sentence; none where no freight is ever asked."""
    # Kept before it was written down what a line does for it.
    freight = line.get("freight")
    if freight is None:
        return []
    costs = "" if money is None else f" of {money(Decimal(freight['costs']))}"
    if freight["free_from"] is None:
        return [f"Freight{costs} is asked however much is ordered."]
    goods = "a sum of goods" if money is None else f"goods of {money(Decimal(freight['free_from']))}"
    away = f"falls away from {goods} on"
    if freight["packs"]:
        return [f"{_some_of(freight['packs'], line['packs'])} ordered only so that the freight{costs} {away}."]
    if freight["is_free"] is None:
        return [f"The freight{costs} {away}: no pack of it is ordered for that."]
    if freight["is_free"]:
        return [f"The freight{costs} {away}, and the order comes to that: no pack of it is ordered for it."]
    return [
        f"Freight{costs} is asked. It {away}, but filling the order up to that would cost more than it saves, or lie too long."
    ]


def _some_of(packs: int, of: int) -> str:
    if packs >= of:
        return "This pack is" if of == 1 else f"All {of} packs are"
    return f"{packs} of {of} packs {'is' if packs == 1 else 'are'}"


def _planned(planned: list[Mapping[str, Any]], runs: Mapping[int, Run], until: str, amount: Callable[[float], str]) -> str:
    if not planned:
        return f"No run that takes it is planned until {until}."
    named = [f"{runs[one['run']].formula.name} {amount(one['amount'])}" for one in planned if one["run"] in runs]
    more = f" and {len(named) - _MOST_RUNS} more" if len(named) > _MOST_RUNS else ""
    return f"Planned until {until}: {amount(sum(one['amount'] for one in planned))} ({', '.join(named[:_MOST_RUNS])}{more})."


def _comes(why: Mapping[str, Any]) -> str:
    """Return how long a delivery takes, and by what that is known."""
    half, most = _days(why["lead_half"]), _days(why["lead_most"])
    # Kept before it was written down by what it is known.
    known = why.get("lead_from")
    if known is None:
        return f"Half of its deliveries come within {half}, 9 of 10 within {most}."
    if known["seen"]:
        by = f"By {_deliveries(known['seen'])} of it"
        by += f" and {known['others']} of other things from there" if known["others"] else ""
        return f"{by}: half of its deliveries come within {half}, 9 of 10 within {most}."
    if known["others"]:
        by = f"No delivery of it seen yet; by {known['others']} of other things from there"
        return f"{by}: half of its deliveries come within {half}, 9 of 10 within {most}."
    days = _days(round(known["usual_days"]))
    told = f"{days} assumed, for nobody said how long it takes" if known["is_assumed"] else f"{days} as they say"
    return f"No delivery seen yet, {told}: reckoned so that half would come within {half}, 9 of 10 within {most}."


def _deliveries(many: int) -> str:
    return "one delivery" if many == 1 else f"{many} deliveries"


def _lasts(line: Mapping[str, Any], why: Mapping[str, Any], amount: Callable[[float], str], *, day: date, today: date) -> str:
    packs = line["packs"]
    what = "One pack lasts" if packs == 1 else f"{packs} packs last"
    until = day_words(day + timedelta(days=min(round(why["lasts_days"]), 3650)), today=today)
    spoils = f"; {amount(why['expires'])} of it would expire unused" if why["expires"] > 0 else ""
    more = "; of one more, most would expire" if why["next_expires"] > _MOSTLY else ""
    return f"{what} with what is here until about {until}{spoils}{more}."


def percent(chance: float) -> str:
    """Return a chance in words: ``7 %``, ``less than 0.1 %``, ``more than 99 %``."""
    if chance < 0.001:
        return "less than 0.1 %"
    if chance > 0.99:
        return "more than 99 %"
    return f"{100 * chance:.1f} %" if chance < 0.0995 else f"{100 * chance:.0f} %"


def _days(days: int) -> str:
    return "a day" if days == 1 else f"{days} days"
