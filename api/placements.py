"""Bars come to a position, move, are turned: the history of places."""

from collections.abc import Sequence
from typing import Any

from django.db.models import Q, QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from api.batches import WHEN_FULL
from api.fields import ChoiceField, CountField, KeyField, MomentField
from api.filtering import ChoiceFilter, KeyFilter, MomentFilter
from api.views import Body, Listing, WorkshopView
from curehouse.curing.models import Placement, Position
from curehouse.flows.placing import move, place
from curehouse.flows.turn import turn_at_place
from curehouse.making.models import Batch
from curehouse.workshops.roles import Right


class PlacementOut(serializers.ModelSerializer):
    """What was done with so many bars of a batch."""

    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = Placement
        fields = read_only_fields = [
            "id",
            "batch",
            "act",
            "bars",
            "origin",
            "target",
            "at",
            "signed_by",
            "written_at",
        ]


class TurnIn(Body):
    """Which bars were turned."""

    batch = KeyField()
    position = KeyField()
    moved_at = MomentField()


class PlaceIn(TurnIn):
    """Bars that come to a position; ``when_full`` says what to do if they do not fit."""

    bars = CountField()
    when_full = ChoiceField(choices=WHEN_FULL, default="refuse")


class MoveIn(PlaceIn):
    """Bars that go from one position to another."""

    origin = KeyField(help_text="The position they stand at now.")


class PlacementFilters(filters.FilterSet):
    """Which placements."""

    batch = KeyFilter(field_name="batch")
    position = KeyFilter(method="at_position", help_text="From or to this position.")
    act = ChoiceFilter(choices=Placement.Act.choices)
    at_after = MomentFilter(field_name="at", lookup_expr="gte")
    at_before = MomentFilter(field_name="at", lookup_expr="lt")

    def at_position(self, rows: QuerySet[Placement], name: str, value: int) -> QuerySet[Placement]:
        """Return what came to a position or left it."""
        return rows.filter(Q(origin=value) | Q(target=value))


class _Placing(WorkshopView):
    """What the three acts have in common."""

    reads = Right.SEE
    writes = Right.POUR
    model = Placement
    serializer_class = PlacementOut
    field_names = {"at": "moved_at"}  # noqa: RUF012

    def position(self, sent: dict[str, Any], field: str = "position") -> Position:
        """Return the position that *field* names."""
        positions = Position.objects.within(self.workshop).select_related("rack")
        return self.here(positions, sent[field], what="position", field=field)

    def common(self, sent: dict[str, Any]) -> dict[str, Any]:
        """Return what every act is told."""
        batches = Batch.objects.within(self.workshop).select_related("formula")
        batch = self.here(batches, sent["batch"], what="batch", field="batch")
        return {"actor": self.actor, "batch": batch, "moved_at": sent["moved_at"], "at": self.at}

    def written(self, placements: Sequence[Placement]) -> Response:
        """Return what was written: one row for each position the bars came to."""
        return Response(self.get_serializer(placements, many=True).data, status=status.HTTP_201_CREATED)


class Placements(_Placing, Listing):
    """The workshop's placements."""

    reads = Right.SEE
    writes = Right.POUR
    filterset_class = PlacementFilters
    ordering_fields = ("at", "id")
    ordering = "-at"

    def rows(self) -> QuerySet[Placement]:
        """Return the placements."""
        return Placement.objects.within(self.workshop).select_related("by_user", "by_device")

    @extend_schema(request=PlaceIn, responses={201: PlacementOut(many=True)}, filters=False)
    def post(self, request: Request) -> Response:
        """Put bars that stand nowhere at a position."""
        sent = self.body(PlaceIn)
        to = {"position": self.position(sent), "bars": sent["bars"], "when_full": sent["when_full"]}
        return self.written(place(**self.common(sent), **to))


class Move(_Placing):
    """Bars carried elsewhere."""

    pagination_class = None
    filter_backends = ()

    @extend_schema(request=MoveIn, responses={201: PlacementOut(many=True)})
    def post(self, request: Request) -> Response:
        """Carry bars from one position to another."""
        sent = self.body(MoveIn)
        ends = {"origin": self.position(sent, "origin"), "target": self.position(sent)}
        return self.written(move(**self.common(sent), **ends, bars=sent["bars"], when_full=sent["when_full"]))


class Turn(_Placing):
    """Bars turned where they stand."""

    pagination_class = None
    filter_backends = ()

    @extend_schema(request=TurnIn, responses={201: PlacementOut})
    def post(self, request: Request) -> Response:
        """Note that a batch's bars at a position were turned."""
        sent = self.body(TurnIn)
        row = turn_at_place(**self.common(sent), position=self.position(sent))
        return Response(self.get_serializer(row).data, status=status.HTTP_201_CREATED)
