"""Racks."""

from django.db.models import Prefetch, QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import CountField, TextField
from api.positions import PositionOut, positions_shown
from api.views import Body, Detail, Listing, WorkshopView
from curehouse.curing.models import Rack
from curehouse.curing.services.racks import add_rack, rename_rack
from curehouse.workshops.roles import Right


class RackOut(serializers.ModelSerializer):
    """A rack with its positions; level 1 is the top."""

    positions = PositionOut(many=True, read_only=True)

    class Meta:
        model = Rack
        fields = read_only_fields = ["id", "name", "order", "positions"]


class RackIn(Body):
    """A rack to be put up: so many levels, each with so many places for so many bars."""

    name = TextField(max_length=200)
    levels = CountField()
    places = CountField(help_text="Places on each level.")
    capacity_bars = CountField(help_text="Bars at each place.")


class RackNameIn(Body):
    """A rack's new name."""

    name = TextField(max_length=200)


def racks_shown(view: WorkshopView) -> QuerySet[Rack]:
    """Return the racks with their positions and what stands there."""
    positions = positions_shown(view).order_by("level", "place")
    return Rack.objects.within(view.workshop).prefetch_related(Prefetch("positions", queryset=positions))


class Racks(Listing):
    """The workshop's racks."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Rack
    serializer_class = RackOut
    ordering_fields = ("order", "name", "id")
    ordering = "order"
    rows = racks_shown

    @extend_schema(request=RackIn, responses={201: RackOut})
    def post(self, request: Request) -> Response:
        """Put a rack up."""
        rack = add_rack(workshop=self.workshop, **self.body(RackIn))
        return Response(self.shown(rack.pk), status=status.HTTP_201_CREATED)


class OneRack(Detail):
    """A rack."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Rack
    serializer_class = RackOut
    rows = racks_shown

    @extend_schema(request=RackNameIn, responses={200: RackOut})
    def patch(self, request: Request, pk: int) -> Response:
        """Give a rack another name."""
        rack = self.here(Rack.objects.within(self.workshop), pk, what="rack")
        rename_rack(rack=rack, name=self.body(RackNameIn)["name"])
        return Response(self.shown(pk))
