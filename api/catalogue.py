"""What the house ships about fats, liquids and acids, and the workshop's own figures of a material."""

from dataclasses import replace
from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import ChoiceField, FigureField, FlagField, LyeConfirmedField, TextField
from api.views import Change, Detail, WorkshopView
from curehouse.core.chemistry.acids import ACIDS
from curehouse.flows.know import know_material
from curehouse.making.fats import fat_kinds
from curehouse.making.liquids import Kind, LiquidKind, liquid_kinds
from curehouse.making.models import MaterialFacts
from curehouse.making.services.facts import LONGEST_ALLERGEN, FactsEntry, facts_entry
from curehouse.workshops.roles import Right
from inventory.models import Material


class FatKindOut(serializers.Serializer):
    """A fat of the list, with its published range and where that is from."""

    key = serializers.CharField()
    name = serializers.CharField()
    saponification_low = serializers.DecimalField(max_digits=6, decimal_places=2, help_text="mg KOH per g.")
    saponification_high = serializers.DecimalField(max_digits=6, decimal_places=2)
    source = serializers.CharField()
    how_sure = serializers.CharField()
    allergen = serializers.CharField(allow_blank=True)


class LiquidKindOut(serializers.Serializer):
    """A liquid of the list; fractions 0 to 1."""

    key = serializers.CharField()
    name = serializers.CharField()
    kind = serializers.CharField()
    water_fraction = serializers.DecimalField(max_digits=5, decimal_places=4)
    fat_fraction = serializers.FloatField()
    sugar_fraction = serializers.FloatField()
    source = serializers.CharField()
    allergen = serializers.CharField(allow_blank=True)


class AcidOut(serializers.Serializer):
    """An acid of the list and the forms it is sold in."""

    key = serializers.CharField()
    forms = serializers.ListField(child=serializers.CharField())


class CatalogueOut(serializers.Serializer):
    """All of it."""

    fats = FatKindOut(many=True)
    liquids = LiquidKindOut(many=True)
    acids = AcidOut(many=True)


class Catalogue(WorkshopView):
    """What ships with the house."""

    reads = Right.SEE
    model = MaterialFacts
    serializer_class = CatalogueOut
    pagination_class = None
    filter_backends = ()

    @extend_schema(responses={200: CatalogueOut})
    def get(self, request: Request) -> Response:
        """Return the fats, liquids and acids that a formula's lines can name by their keys."""
        found = {
            "fats": list(fat_kinds().values()),
            "liquids": [_liquid(kind) for kind in liquid_kinds().values()],
            "acids": [{"key": key, "forms": list(forms)} for key, forms in ACIDS.items()],
        }
        return Response(CatalogueOut(found).data)


def _liquid(kind: LiquidKind) -> dict[str, Any]:
    return {
        "key": kind.key,
        "name": kind.name,
        "kind": kind.kind.value,
        "water_fraction": kind.water_fraction,
        "fat_fraction": kind.made_of.fat.middle,
        "sugar_fraction": kind.made_of.sugar,
        "source": kind.source,
        "allergen": kind.allergen,
    }


class FactsOut(serializers.Serializer):
    """The workshop's own figures of a material; null or empty where the list's count."""

    material = serializers.IntegerField()
    key = serializers.CharField(allow_blank=True)
    saponification_low = serializers.DecimalField(max_digits=6, decimal_places=2, allow_null=True)
    saponification_high = serializers.DecimalField(max_digits=6, decimal_places=2, allow_null=True)
    water_fraction = serializers.DecimalField(max_digits=5, decimal_places=4, allow_null=True)
    fat_fraction = serializers.DecimalField(max_digits=5, decimal_places=4, allow_null=True)
    sugar_fraction = serializers.DecimalField(max_digits=5, decimal_places=4, allow_null=True)
    liquid_kind = serializers.ChoiceField([kind.value for kind in Kind], allow_blank=True)
    most_share = serializers.DecimalField(max_digits=5, decimal_places=4, allow_null=True)
    is_thickened = serializers.BooleanField(allow_null=True)
    allergen = serializers.CharField(allow_blank=True)
    source = serializers.CharField(allow_blank=True)


def _figure(places: int = 4, **more: Any) -> FigureField:
    return FigureField(max_digits=6 if places == 2 else 5, decimal_places=places, required=False, allow_null=True, **more)


class FactsIn(Change):
    """What is to be changed of a material's own figures; null gives the list's back."""

    key = TextField(max_length=40, required=False, allow_blank=True, help_text="Which fat or liquid of the list it is.")
    saponification_low = _figure(2, help_text="mg KOH per g; of a liquid: its fat's.")
    saponification_high = _figure(2)
    water_fraction = _figure()
    fat_fraction = _figure()
    sugar_fraction = _figure()
    liquid_kind = ChoiceField(
        [kind.value for kind in Kind], required=False, allow_blank=True, help_text="What a liquid is; empty: as the list says."
    )
    most_share = _figure(help_text="A fragrance's maximum in the finished bar, by its supplier.")
    is_thickened = FlagField(required=False, allow_null=True)
    allergen = TextField(
        max_length=LONGEST_ALLERGEN, required=False, allow_blank=True, help_text="Several with a comma between them."
    )
    source = TextField(max_length=200, required=False, allow_blank=True)
    lye_confirmed = LyeConfirmedField()
    key_confirmed = TextField(
        max_length=40,
        required=False,
        allow_blank=True,
        help_text="The `confirm` of a 409 with `key_doubtful`: that it is this row though called otherwise was read.",
    )


def _materials(view: WorkshopView) -> QuerySet[Material]:
    return Material.objects.within(view.workshop).select_related("facts")


class Facts(Detail):
    """What a material is made of."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Material
    serializer_class = FactsOut
    rows = _materials

    @extend_schema(responses={200: FactsOut})
    def get(self, request: Request, pk: int) -> Response:
        """Show the workshop's own figures."""
        return Response(_shown(self.here(_materials(self), pk, what="material")))

    @extend_schema(request=FactsIn, responses={200: FactsOut})
    def patch(self, request: Request, pk: int) -> Response:
        """Change them; a certificate's value of a lot beats them all the same.

        What moves the lye of versions that were poured is answered with ``poured_lye_moves`` (409) and their figures,
        until its ``confirm`` comes in ``lye_confirmed``; a row of the list that the material is not called like, with
        ``key_doubtful`` (409), until its ``confirm`` comes in ``key_confirmed``.
        """
        material = self.here(_materials(self), pk, what="material")
        sent = self.body(FactsIn)
        read = sent.pop("lye_confirmed", "")
        key = sent.pop("key_confirmed", "")
        entry = replace(facts_entry(material), **sent)
        know_material(material=material, entry=entry, at=self.at, lye_confirmed=read, key_confirmed=key, tell=self.tell)
        return Response(_shown(self.here(_materials(self), pk, what="material")))


def _shown(material: Material) -> Any:
    entry: FactsEntry = facts_entry(material)
    return FactsOut({"material": material.pk, **{name: getattr(entry, name) for name in entry.__slots__}}).data
