"""A step typed in ounces is kept as it is, and whole steps of it never come to more lye than was asked for."""

from decimal import Decimal
from importlib import import_module
from typing import Any

import pytest
from django.apps import apps
from hypothesis import given
from hypothesis import strategies as st

from curehouse.common.units import GRAMS_PER_OUNCE, from_grams, parse_step_g
from curehouse.core.chemistry.scale import weigh_out
from curehouse.workshops.models import Scale
from curehouse.workshops.services import add_scale, add_tare
from tests.api.device import Device
from tests.world import World


@pytest.mark.parametrize(("typed", "exact"), [("0.1", "2.8349523125"), ("0.01", "0.28349523125"), ("0.005", "0.141747615625")])
def test_a_step_in_ounces_is_read_whole(typed: str, exact: str) -> None:
    assert parse_step_g(typed, "oz", field="", what="The step") == Decimal(exact)


# Steps from a hundredth of an ounce to an ounce, and as much lye as a batch can have.
@given(st.integers(1, 100), st.decimals("0.001", 20_000, places=3))
def test_what_is_weighed_in_steps_of_an_ounce_is_never_more_than_was_asked_for(hundredths: int, exact_g: Decimal) -> None:
    step_g = parse_step_g(f"{hundredths / 100:.2f}", "oz", field="", what="The step")
    shown_oz = from_grams(Decimal(str(weigh_out(float(exact_g), float(step_g)))), "oz")
    steps = shown_oz / (Decimal(hundredths) / 100)
    assert abs(steps - round(steps)) < Decimal("1e-6"), "the scale can show it"
    # By the scale's own figure: so many ounces, weighed out, are no more than was asked for.
    assert round(steps) * step_g <= exact_g * (1 + Decimal("1e-11"))
    assert (round(steps) + 1) * step_g > exact_g


@pytest.mark.django_db
def test_it_is_kept_and_told_whole(world: World) -> None:
    world.workshop.unit = "oz"
    world.workshop.save()
    scale = add_scale(workshop=world.workshop, name="Post scale", step_g=parse_step_g("0.1", "oz", field="", what=""))
    assert Scale.objects.within(world.workshop).get(pk=scale.pk).step_g == Decimal("2.8349523125")
    rows = {row["name"]: row["step_g"] for row in Device(world).rows("scales/")}
    assert (rows["Post scale"], rows["Kitchen scale"]) == ("2.8349523125", "0.100")
    # One step of it, as a tare is kept: to the milligram.
    fine = add_scale(workshop=world.workshop, name="Fine", step_g=parse_step_g("0.01", "oz", field="", what=""))
    assert add_tare(scale=fine, name="Paper", weight_g=Decimal("0.283")).weight_g == Decimal("0.283")


@pytest.mark.django_db
def test_steps_that_were_cut_to_milligrams_get_their_places_back_where_ounces_are_used(world: World) -> None:
    made_whole: Any = import_module("curehouse.workshops.migrations.0012_steps_in_ounces_made_whole").made_whole
    names = {"0.283": "Hundredths", "2.835": "Tenths", "28.350": "Ounces", "1.000": "Grams"}
    for step, name in names.items():
        add_scale(workshop=world.workshop, name=name, step_g=Decimal(step))
    made_whole(apps, None)
    assert Scale.objects.within(world.workshop).get(name="Tenths").step_g == Decimal("2.835"), "in grams that is its step"
    world.workshop.unit = "oz"
    world.workshop.save()
    made_whole(apps, None)
    steps = {scale.name: scale.step_g for scale in Scale.objects.within(world.workshop)}
    tenth = GRAMS_PER_OUNCE / 10
    assert (steps["Hundredths"], steps["Tenths"], steps["Ounces"], steps["Grams"]) == (tenth / 10, tenth, tenth * 10, 1)
