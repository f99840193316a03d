"""Scales, and their checks with a test weight."""

from django.db.models import Prefetch, QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import ExactField, FigureField, GramsField, TextField
from api.filtering import FlagFilter
from api.views import Body, Detail, Listing
from curehouse.workshops.models import Scale, ScaleTare
from curehouse.workshops.roles import Right
from curehouse.workshops.services import add_scale, add_tare, check_scale, retire_tare


class TareOut(serializers.ModelSerializer):
    """Something that stands on a scale and can be forgotten."""

    class Meta:
        model = ScaleTare
        fields = read_only_fields = ["id", "name", "weight_g"]


class ScaleOut(serializers.ModelSerializer):
    """A scale with its step, its last check and the tares that stand on it."""

    tares = TareOut(many=True, read_only=True)
    step_g = ExactField(max_digits=15, decimal_places=12, read_only=True)

    last_check_at = serializers.DateTimeField(read_only=True, allow_null=True)
    last_check_off_g = serializers.DecimalField(
        max_digits=10, decimal_places=3, read_only=True, allow_null=True, help_text="Shown minus test weight."
    )

    class Meta:
        model = Scale
        fields = read_only_fields = ["id", "name", "step_g", "retired_at", "last_check_at", "last_check_off_g", "tares"]


class ScaleIn(Body):
    """A scale to be added."""

    name = TextField(max_length=200)
    step_g = FigureField(
        max_digits=15,
        decimal_places=12,
        help_text="The smallest difference it shows, in grams; one in ounces with all of its places: 0.1 oz is 2.8349523125.",
    )


class ScaleCheckIn(Body):
    """What a scale showed for a known weight."""

    test_weight_g = GramsField()
    shown_g = GramsField()


class TareIn(Body):
    """A tare to be added to a scale."""

    name = TextField(max_length=200)
    weight_g = GramsField(max_digits=9)


class ScaleFilters(filters.FilterSet):
    """Which scales."""

    in_use = FlagFilter(field_name="retired_at", lookup_expr="isnull")


class Scales(Listing):
    """The workshop's scales."""

    reads = Right.SEE_ROUND
    writes = Right.MAKE
    model = Scale
    serializer_class = ScaleOut
    filterset_class = ScaleFilters
    ordering_fields = ("name", "id")
    ordering = "name"

    def rows(self) -> QuerySet[Scale]:
        """Return the scales."""
        tares = Prefetch("tares", ScaleTare.objects.within(self.workshop).in_use())
        return Scale.objects.within(self.workshop).with_last_check().prefetch_related(tares)

    @extend_schema(request=ScaleIn, responses={201: ScaleOut})
    def post(self, request: Request) -> Response:
        """Add a scale."""
        scale = add_scale(workshop=self.workshop, **self.body(ScaleIn))
        return Response(self.shown(scale.pk), status=status.HTTP_201_CREATED)


class OneScale(Detail):
    """A scale."""

    reads = Right.SEE_ROUND
    model = Scale
    serializer_class = ScaleOut
    rows = Scales.rows


class ScaleChecks(Detail):
    """Checks of a scale; what is seen of them is the last, with the scale."""

    reads = Right.SEE_ROUND
    writes = Right.MAKE
    model = Scale
    serializer_class = ScaleOut
    rows = Scales.rows
    http_method_names = ("post", "options")

    @extend_schema(request=ScaleCheckIn, responses={201: ScaleOut})
    def post(self, request: Request, pk: int) -> Response:
        """Note what the scale shows for a test weight now."""
        scale = self.here(Scale.objects.within(self.workshop), pk, what="scale")
        check_scale(actor=self.actor, scale=scale, at=self.at, **self.body(ScaleCheckIn))
        return Response(self.shown(pk), status=status.HTTP_201_CREATED)


class ScaleTares(Detail):
    """Tares of a scale; what is seen of them is those in use, with the scale."""

    reads = Right.SEE_ROUND
    writes = Right.MAKE
    model = Scale
    serializer_class = ScaleOut
    rows = Scales.rows
    http_method_names = ("post", "options")

    @extend_schema(request=TareIn, responses={201: ScaleOut})
    def post(self, request: Request, pk: int) -> Response:
        """Add what stands on the scale and can be forgotten: weights off by it are asked about by its name."""
        add_tare(scale=self.here(Scale.objects.within(self.workshop), pk, what="scale"), **self.body(TareIn))
        return Response(self.shown(pk), status=status.HTTP_201_CREATED)


class RetireTare(Detail):
    """Taking a tare out of use."""

    reads = Right.SEE_ROUND
    writes = Right.MAKE
    model = Scale
    serializer_class = ScaleOut
    rows = Scales.rows
    http_method_names = ("post", "options")

    @extend_schema(request=None, responses={200: ScaleOut})
    def post(self, request: Request, pk: int) -> Response:
        """Say that a tare stands on its scale no more; the answer is the scale."""
        tare = retire_tare(tare=self.here(ScaleTare.objects.within(self.workshop), pk, what="tare"), at=self.at)
        return Response(self.shown(tare.scale_id))
