"""Positions on the racks, and what stands there."""

from django.db.models import Prefetch, QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import CountField
from api.filtering import KeyFilter
from api.views import Body, Detail, Listing, WorkshopView
from curehouse.curing.models import Occupancy, Position
from curehouse.flows.placing import set_capacity
from curehouse.workshops.roles import Right


class StandingOut(serializers.ModelSerializer):
    """How many bars of a batch stand at a position now."""

    class Meta:
        model = Occupancy
        fields = read_only_fields = ["batch", "bars"]


class PositionOut(serializers.ModelSerializer):
    """A stretch of board that holds so many bars."""

    bars_free = serializers.IntegerField(read_only=True)
    standing = StandingOut(many=True, read_only=True)

    class Meta:
        model = Position
        fields = read_only_fields = [
            "id",
            "rack",
            "level",
            "place",
            "capacity_bars",
            "bars_held",
            "bars_free",
            "standing",
        ]


class CapacityIn(Body):
    """How many bars a position holds."""

    capacity_bars = CountField()


class PositionFilters(filters.FilterSet):
    """Which positions."""

    rack = KeyFilter(field_name="rack")
    level = KeyFilter(field_name="level")
    batch = KeyFilter(method="where_batch_stands", help_text="Where bars of this batch stand now.")

    def where_batch_stands(self, rows: QuerySet[Position], name: str, value: int) -> QuerySet[Position]:
        """Return the positions at which bars of a batch stand."""
        standing = Occupancy.objects.within(self.request.actor.workshop).filter(batch=value, bars__gt=0)
        return rows.filter(pk__in=standing.values("position"))


def positions_shown(view: WorkshopView) -> QuerySet[Position]:
    """Return the positions with what stands there now."""
    standing = Occupancy.objects.within(view.workshop).filter(bars__gt=0).order_by("batch")
    return Position.objects.within(view.workshop).prefetch_related(
        Prefetch("occupancies", queryset=standing, to_attr="standing")
    )


class Positions(Listing):
    """The workshop's positions."""

    reads = Right.SEE
    model = Position
    serializer_class = PositionOut
    filterset_class = PositionFilters
    ordering_fields = ("id", "bars_held", "capacity_bars")
    rows = positions_shown


class OnePosition(Detail):
    """A position."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Position
    serializer_class = PositionOut
    rows = positions_shown

    @extend_schema(request=CapacityIn, responses={200: PositionOut})
    def patch(self, request: Request, pk: int) -> Response:
        """Say how many bars a position holds; never fewer than stand there."""
        position = self.here(Position.objects.within(self.workshop).select_related("rack"), pk, what="position")
        set_capacity(actor=self.actor, position=position, capacity_bars=self.body(CapacityIn)["capacity_bars"], at=self.at)
        return Response(self.shown(pk))
