"""What was sent of a form against what it would show now: lots that are not in order any more, a recipe written anew."""

import re
from collections.abc import Sequence
from datetime import date

from django.http import QueryDict

from curehouse.workshops.models import Workshop
from inventory.blends import Recipe
from inventory.models import BlendPart, Irregular, Lot

LOT = "lot_"
UNKEPT = "unkept_"
_KEY = re.compile(r"(lot_|unkept_)([0-9]{1,18})")
_ANEW = "What it is made from was written anew since this was shown: look at what goes in by now, and at each weight."


def _typed(sent: QueryDict, start: str) -> dict[int, str]:
    """Return what was typed into fields by the keys of what they are about."""
    found = {int(key[2]): sent[key[0]].strip() for key in map(_KEY.fullmatch, sent) if key is not None and key[1] == start}
    return {key: text for key, text in found.items() if text}


def sent_by(sent: QueryDict, workshop: Workshop, recipe: Recipe) -> tuple[QueryDict, list[str]]:
    """Return what was sent as the form shows it by the recipe in force, and in words what is no more as it was shown.

    A weight of what is not kept in the storeroom stays with that by its name, never with the place it had.
    """
    if sent.get("recipe") == str(recipe.blend.pk):
        return sent, []
    shown, words = sent.copy(), [_ANEW]
    shown["recipe"] = str(recipe.blend.pk)
    now = {part.name.casefold(): part.pk for part, _share in recipe.shares if part.material_id is None}
    typed = _typed(sent, UNKEPT)
    before = {part.pk: part for part in BlendPart.objects.within(workshop).filter(pk__in=typed, material=None)}
    for key, text in typed.items():
        part = before.get(key)
        place = None if part is None else now.get(part.name.casefold())
        if place is not None:
            shown[f"{UNKEPT}{place}"] = text
        elif part is not None:
            words.append(f"{part.name} is no part of it any more; {text} was typed of it.")
    return shown, words


def lots_gone(sent: QueryDict, workshop: Workshop, lots: Sequence[Lot]) -> tuple[list[Lot], list[str]]:
    """Return the lots of which something was typed, and which are not among those that may go in now; and what is none."""
    keys = _typed(sent, LOT).keys() - {lot.pk for lot in lots}
    found = list(Lot.objects.within(workshop).filter(pk__in=keys).named().order_by("pk")) if keys else []
    return found, ["A lot of which something was typed is not here: choose another."] if len(found) != len(keys) else []


def why_gone(lot: Lot, today: date) -> str:
    """Say why a lot is not among those that may go in."""
    irregular = lot.irregular_on(today)
    if irregular:
        return f"is {Irregular(irregular).label}"
    return "is no part any more" if lot.on_hand > 0 else "is used up"
