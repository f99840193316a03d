"""What is made from others: its recipe, and a making of it."""

from decimal import Decimal

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from curehouse.flows.blends import make_blend, write_blend
from curehouse.flows.use_stock import propose
from curehouse.web.access import Visit, for_members
from curehouse.web.forms.answers import done_once
from curehouse.web.forms.as_shown import LOT, UNKEPT
from curehouse.web.forms.blends import HowMuchForm, MakingForm, RecipeForm
from curehouse.web.reading.amounts import amount_words
from curehouse.web.reading.batch_stock import short_words
from curehouse.web.reading.blends import old_recipes, parts_offered, read_recipe, recipe_now, why_it_waits
from curehouse.web.reading.days import Calendar
from curehouse.workshops.roles import Right
from inventory.blends import Recipe
from inventory.models import Lot, Material

_FORM_METHODS = ["GET", "HEAD", "POST"]
_STEP = Decimal("0.001")


def _material(visit: Visit, pk: int) -> Material:
    return Material.objects.within(visit.workshop).get_here(pk, what="material")


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def material_recipe(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Write from what a material is made; what stood before stays with the lots made by it."""
    request.room = "storeroom"
    row = _material(visit, pk)
    form = RecipeForm(request.POST or None, materials=parts_offered(visit, row), recipe=recipe_now(visit, row))

    def work() -> str:
        blend = write_blend(actor=visit.actor, material=row, entry=form.entry(), at=visit.at)
        messages.success(request, f"{blend} is written down.")
        return reverse("web:material", args=[row.pk])

    page = {"form": form, "material": row, "recipes": old_recipes(visit, row)}
    return done_once(request, visit, form, work) or render(request, "web/storeroom/recipe.html", page)


@require_http_methods(_FORM_METHODS)
@for_members(needs=Right.MAKE)
def material_make(request: HttpRequest, visit: Visit, pk: int) -> HttpResponse:
    """Ask how much is to be made and propose lots; book what was made where that is sent."""
    request.room = "storeroom"
    row = _material(visit, pk)
    recipe = recipe_now(visit, row)
    if recipe is None:
        messages.info(request, f"Write down what {row} is made from first.")
        return redirect("web:material_recipe", pk=row.pk)
    asked = HowMuchForm(request.GET if "made_g" in request.GET else None, unit=visit.workshop.unit)
    form, words = None, []
    if request.method == "POST" or asked.is_valid():
        made_g = asked.cleaned_data["made_g"] if asked.is_valid() else Decimal(0)
        now, words = _proposed(visit, recipe, made_g)
        form = MakingForm(request.POST or None, visit=visit, recipe=recipe, lots=_lots(visit, recipe), now=now)

    def work() -> str:
        making = make_blend(actor=visit.actor, material=row, entry=form.entry(visit), at=visit.at)
        came = amount_words(making.made_g, row, visit.workshop.unit)
        messages.success(request, f"{came} of {row} is made: mark it with lot {making.lot.number}, what is in it, and the day.")
        if making.lot.standing != form.cleaned_data["standing"]:
            messages.warning(request, f"It waits in quarantine all the same: {why_it_waits(making)}.")
        return reverse("web:lot", args=[making.lot_id])

    answer = None if form is None else done_once(request, visit, form, work)
    page = {"asked": asked, "form": form, "words": words, "material": row, "recipe": read_recipe(visit, row)}
    return answer or render(request, "web/storeroom/make.html", page)


def _lots(visit: Visit, recipe: Recipe) -> list[Lot]:
    """Return the lots that may go in: of its parts, in order today."""
    keys = [part.material_id for part, _share in recipe.shares if part.material_id is not None]
    today = Calendar(visit.workshop, visit.at).today
    lots = Lot.objects.within(visit.workshop).filter(material__in=keys).usable(on=today)
    return list(lots.named().first_expired_first())


def _proposed(visit: Visit, recipe: Recipe, made_g: Decimal) -> tuple[dict[str, Decimal], list[str]]:
    """Return what would go in for so much, by the fields of the form, and what is short of it in words."""
    # What came of lye is weighed, and how strong it is goes by that: nothing stands there that nobody weighed.
    now: dict[str, Decimal] = {} if recipe.material.kind == Material.Kind.LYE else {"made_g": made_g}
    words = []
    today, unit = Calendar(visit.workshop, visit.at).today, visit.workshop.unit
    for part, share in recipe.shares:
        grams = (made_g * share).quantize(_STEP)
        if not grams:
            continue
        if part.material is None:
            now[f"{UNKEPT}{part.pk}"] = grams
            continue
        found = propose(workshop=visit.workshop, material=part.material, amount=grams, day=today)
        now |= {f"{LOT}{lot.pk}": amount for lot, amount in found.takes}
        words += [said] if (said := short_words(part.material, grams, found, unit)) else []
    return now, words
