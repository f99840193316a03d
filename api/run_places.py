"""Places for runs: looked for before one is planned, and kept anew."""

from typing import Any

from django.db.models import QuerySet
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from api.runs import BarsField, OfRun, RunOut, RunQuery
from api.views import Body, Detail
from curehouse.flows.run_places import PlacesAhead, look_for_places
from curehouse.flows.runs import keep_places_anew
from curehouse.making.formulas.reading import version_here
from curehouse.making.models import FormulaVersion
from curehouse.workshops.roles import Right


class PlacesQuery(RunQuery):
    """How much, for when, and how many bars."""

    bars = BarsField()


class KeepPlacesIn(Body):
    """How many bars places are kept for."""

    bars = BarsField()


class PlaceOut(serializers.Serializer):
    """So many bars at a position."""

    position = serializers.IntegerField()
    name = serializers.CharField()
    bars = serializers.IntegerField()


class LeaveFirstOut(serializers.Serializer):
    """A batch that stands at one of the places and is expected to be gone by then."""

    batch = serializers.IntegerField()
    position = serializers.IntegerField()
    until = serializers.DateField()


class PlacesOut(serializers.Serializer):
    """Where the bars of a run can stand from the cut until 9 of 10 such batches are dry enough."""

    bars = serializers.IntegerField()
    cut_on = serializers.DateField()
    half_dry_on = serializers.DateField(allow_null=True, help_text="null: half are not dry enough as far as it was looked.")
    stays_until = serializers.DateField()
    is_told = serializers.BooleanField(help_text="false: 9 of 10 are not dry enough as far as it was looked.")
    places = PlaceOut(many=True)
    lacking = serializers.IntegerField(help_text="So many bars find no place.")
    leave_first = LeaveFirstOut(many=True)
    pour_first_on = serializers.DateField(
        allow_null=True, help_text="The first day to pour on with room for all; null: none within four months."
    )


def places_told(found: PlacesAhead) -> dict[str, Any]:
    """Return where bars would stand as it is answered."""
    cure, positions = found.cure, found.shelf.positions
    return {
        "bars": cure.bars,
        "cut_on": cure.cut_on,
        "half_dry_on": cure.half_dry_on,
        "stays_until": cure.stays_until,
        "is_told": cure.is_told,
        "places": [{"position": at.pk, "name": str(at), "bars": bars} for at, bars in found.places],
        "lacking": found.lacking,
        "leave_first": [
            {"batch": one.batch.pk, "position": positions[one.place].pk, "until": one.last_day} for one in found.leave_first
        ],
        "pour_first_on": found.pour_first_on,
    }


class VersionPlaces(Detail):
    """Where the bars of a run of a version can stand."""

    reads = Right.SEE
    model = FormulaVersion
    serializer_class = PlacesOut

    def rows(self) -> QuerySet[FormulaVersion]:
        """Return the versions."""
        return FormulaVersion.objects.within(self.workshop)

    @extend_schema(parameters=[PlacesQuery], responses={200: PlacesOut})
    def get(self, request: Request, pk: int) -> Response:
        """Say where the bars of a run can stand for the whole of their cure; nothing is kept."""
        version = version_here(self.workshop, pk)
        asked: dict[str, Any] = PlacesQuery().run_validation(request.query_params.dict())
        return Response(PlacesOut(places_told(look_for_places(version=version, at=self.at, **asked))).data)


class KeepPlaces(OfRun):
    """Keeping places for a run anew."""

    @extend_schema(request=KeepPlacesIn, responses={200: RunOut})
    def post(self, request: Request, pk: int) -> Response:
        """Keep places for the bars of a planned run anew, by what is foretold of the racks today."""
        keep_places_anew(actor=self.actor, run=self.run(pk), bars=self.body(KeepPlacesIn)["bars"], at=self.at)
        return Response(self.shown(pk), status=status.HTTP_200_OK)
