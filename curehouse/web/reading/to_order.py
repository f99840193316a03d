"""What lists and Today say of a material's ordering: by which day it is to be decided, or until when it is put off."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.urls import reverse

from curehouse.common.time import day_words
from curehouse.flows.proposal_words import Money, because_words, freight_words
from curehouse.notices.models import Notice
from curehouse.web.marks import Mark, mark_of
from curehouse.web.reading.rows import Row
from inventory.models import Material, Proposal
from inventory.to_order import NotNow, ToOrder

_MOST_NAMED = 4


# Beside the day by which what is sent for would be here in time, which the same page says.
_DECIDE_MEANS = "The day to decide is the last on which waiting keeps that chance near what is worth living with."


@dataclass(frozen=True, slots=True)
class Ordering:
    """A material's ordering on its own page: the order it waits on with why, or until when it is put off."""

    order: str
    href: str
    decide: str
    said: str


def ordering_of(key: int, known: ToOrder, today: date, money: Money | None) -> Ordering | None:
    """Return it; None where it is not to be ordered."""
    if (one := known.proposed.get(key)) is not None:
        line = next(line for line in one.lines if line["material"] == key)
        href = f"{reverse('web:order', args=[one.order_id])}#why"
        said = " ".join([because_words(line["because"], line["why"]), *freight_words(line, money), _DECIDE_MEANS])
        return Ordering(str(one.order), href, decide_words(one, today), said)
    if (off := known.put_off.get(key)) is not None:
        return Ordering("", "", "", f"{put_off_words(off, today).rstrip('.')}.")
    return None


def decide_words(one: Proposal, today: date) -> str:
    """Return by which day an order is to be decided."""
    return "decide today" if one.decide_by <= today else f"decide by {day_words(one.decide_by, today=today)}"


def put_off_words(one: NotNow, today: date) -> str:
    """Return until when a material is put off, and why."""
    return f"not before {day_words(one.until, today=today)}: {one.why}"


def to_order_words(key: int, known: ToOrder, today: date) -> str:
    """Return what is known of a material's ordering; nothing where it is not to be ordered."""
    if (proposed := known.proposed.get(key)) is not None:
        return f"{proposed.order}: {decide_words(proposed, today)}"
    return put_off_words(known.put_off[key], today) if key in known.put_off else ""


def to_order_mark(key: int, known: ToOrder) -> Mark | None:
    """Return the mark of the same."""
    return mark_of("to_order") if key in known.proposed else mark_of("put_off") if key in known.put_off else None


def left_out_words(known: ToOrder, names: dict[int, str], today: date) -> str:
    """Return in a sentence what was not looked for, as it is put off; nothing where nothing is."""
    rows = _soonest_first(known, names)
    said = [f"{names[one.material_id]}, {put_off_words(one, today).rstrip('.')}" for one in rows]
    more = f"; and {len(said) - _MOST_NAMED} more" if len(said) > _MOST_NAMED else ""
    return f"Left out, for it is put off: {'; '.join(said[:_MOST_NAMED])}{more}." if said else ""


def _soonest_first(known: ToOrder, names: dict[int, str]) -> list[NotNow]:
    here = [one for one in known.put_off.values() if one.material_id in names]
    return sorted(here, key=lambda one: (one.until, names[one.material_id]))


def names_of(materials: Iterable[Material]) -> dict[int, str]:
    """Return the names of materials, by their keys."""
    return {one.pk: one.name for one in materials}


def order_row(notice: Notice, known: ToOrder, names: dict[int, str], today: date) -> Row | None:
    """Return an order that is to be decided with what is on it; None where the house would order nothing with it now."""
    found = next((one for one in known.proposed.values() if notice.about == f"order:{one.order_id}"), None)
    if found is None:
        return None
    goods = [names[line["material"]] for line in found.lines if line["material"] in names]
    more = f" and {len(goods) - _MOST_NAMED} more" if len(goods) > _MOST_NAMED else ""
    note = f"{', '.join(goods[:_MOST_NAMED])}{more}"
    return Row(name=notice.title, url=notice.path, note=note, mark=mark_of(notice.mark), said=decide_words(found, today))


def put_off_rows(known: ToOrder, names: dict[int, str], today: date) -> Iterable[Row]:
    """Yield what is put off, what is proposed again first."""
    for one in _soonest_first(known, names):
        yield Row(
            name=names[one.material_id],
            url=reverse("web:material", args=[one.material_id]),
            note=put_off_words(one, today),
            mark=mark_of("put_off"),
        )
