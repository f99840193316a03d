"""Runs that are planned: announced, moved, called off."""

from typing import Any

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import CountField, DayField, GramsField, KeyField, TextField
from api.filtering import KeyFilter
from api.views import Body, Detail, Listing, WorkshopView
from curehouse.flows.check_run import Shares, share_out
from curehouse.flows.enter_batch import link_run
from curehouse.flows.runs import call_off_run, move_run, plan_run, reserve_run
from curehouse.making.models import Batch, FormulaVersion, Run, RunChange
from curehouse.workshops.roles import Right


class ReservationOut(serializers.Serializer):
    """What a run takes of one material of the storeroom."""

    material = serializers.IntegerField(source="material_id")
    amount_g = serializers.DecimalField(max_digits=13, decimal_places=3)


class RunChangeOut(serializers.ModelSerializer):
    """What was said of a run, when and by whom."""

    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = RunChange
        fields = read_only_fields = ["what", "pour_on", "was_on", "fats_g", "version", "why", "signed_by", "at"]


class NotKeptOut(serializers.Serializer):
    """What the storeroom cannot be asked for; without an amount none is told."""

    name = serializers.CharField()
    amount_g = serializers.DecimalField(max_digits=13, decimal_places=3, allow_null=True)


class KeptPlaceOut(serializers.Serializer):
    """So many bars kept for at a position."""

    position = serializers.IntegerField(source="position_id")
    bars = serializers.IntegerField()


class ExpectedCureOut(serializers.Serializer):
    """What was expected of a run's cure when places were kept for it, and which."""

    bars = serializers.IntegerField()
    cut_on = serializers.DateField()
    half_dry_on = serializers.DateField(allow_null=True, help_text="By then 5 of 10 such batches are dry enough.")
    stays_until = serializers.DateField(help_text="By then 9 of 10 are, or it is the last day looked at; see is_told.")
    is_told = serializers.BooleanField()
    places = KeptPlaceOut(many=True)


class ShortOut(serializers.Serializer):
    """What lacks of one material, in grams: as orders likely come, and as they have safely come."""

    material = serializers.IntegerField()
    name = serializers.CharField()
    likely_g = serializers.FloatField()
    safe_g = serializers.FloatField()


STANDINGS = [
    ("enough", "enough"),
    ("perhaps_short", "enough if what is on its way comes on its likely day"),
    ("not_told", "no amount is told of something it takes, so it may be short; see not_kept"),
    ("short", "short"),
]


class RunOut(serializers.ModelSerializer):
    """A run; ``announced_on`` is the day on which it was planned first, and stays."""

    formula_name = serializers.CharField(source="formula.name", read_only=True)
    reserved = serializers.SerializerMethodField(help_text="While it is planned.")
    not_kept = NotKeptOut(many=True, read_only=True, help_text="What nothing is reserved of.")
    standing = serializers.SerializerMethodField(help_text="While it is planned; null after.")
    short = serializers.SerializerMethodField(help_text="While it is planned, beside the runs that were planned before it.")
    expected_cure = serializers.SerializerMethodField(
        help_text="What places are kept by, while its bars are still to come; null where none are."
    )
    changes = RunChangeOut(many=True, read_only=True)
    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = Run
        fields = read_only_fields = [
            "id",
            "formula",
            "formula_name",
            "version",
            "state",
            "fats_g",
            "bars",
            "expected_cure",
            "pour_on",
            "announced_on",
            "batch",
            "reserved",
            "not_kept",
            "standing",
            "short",
            "changes",
            "note",
            "signed_by",
            "written_at",
        ]

    @extend_schema_field(ReservationOut(many=True))
    def get_reserved(self, run: Run) -> list[dict[str, Any]]:
        """Return what is reserved for a run that is planned."""
        return ReservationOut(run.reservations.all() if run.state == Run.State.PLANNED else [], many=True).data

    @extend_schema_field(ExpectedCureOut(allow_null=True))
    def get_expected_cure(self, run: Run) -> dict[str, Any] | None:
        """Return what is expected of the cure of a run whose bars are still to come."""
        is_over = run.state != Run.State.PLANNED and (run.batch is None or run.batch.state != Batch.State.POURED)
        return None if is_over or not hasattr(run, "expected_cure") else ExpectedCureOut(run.expected_cure).data

    def _shares(self) -> Shares:
        """Return what all planned runs get, reckoned once for all that is shown."""
        view = self.context["view"]
        if "shares" not in self.context:
            self.context["shares"] = share_out(workshop=view.workshop, at=view.at)
        return self.context["shares"]

    @extend_schema_field(serializers.ChoiceField(choices=STANDINGS, allow_null=True))
    def get_standing(self, run: Run) -> str | None:
        """Return how a run that is planned stands."""
        return self._shares().standing(run) if run.state == Run.State.PLANNED else None

    @extend_schema_field(ShortOut(many=True))
    def get_short(self, run: Run) -> list[dict[str, Any]]:
        """Return what is short of a run that is planned."""
        short = self._shares().short_of(run) if run.state == Run.State.PLANNED else []
        return [
            {"material": material.pk, "name": material.name, "likely_g": round(likely_g, 3), "safe_g": round(safe_g, 3)}
            for material, likely_g, safe_g in short
        ]


BARS_HELP = "How many bars it gives; null: as many as batches of its formula gave."


class BarsField(CountField):
    """A number of bars, or null."""

    def __init__(self) -> None:
        super().__init__(required=False, default=None, allow_null=True, help_text=BARS_HELP)


class RunQuery(Body):
    """How much, and for when."""

    fats_g = GramsField(help_text="The oils, in grams.")
    pour_on = DayField()


class RunIn(RunQuery):
    """A run to be planned."""

    version = KeyField(help_text="The id of the formula's version.")
    bars = BarsField()
    note = TextField(max_length=4000, required=False, default="", allow_blank=True)


class MoveRunIn(Body):
    """Another day for a run."""

    pour_on = DayField()
    why = TextField(max_length=400, required=False, default="", allow_blank=True)


class CallOffRunIn(Body):
    """Why a run is called off."""

    why = TextField(max_length=400)


class ReserveIn(Body):
    """What a run takes, reserved anew by its formula and the lots of today."""

    fats_g = GramsField(help_text="The oils, in grams: as they are, or in another size.")


class PourRunIn(Body):
    """The batch that came of a run."""

    batch = KeyField()


class RunFilters(filters.FilterSet):
    """Which runs."""

    formula = KeyFilter(field_name="formula")


def runs_shown(view: WorkshopView) -> QuerySet[Run]:
    """Return the runs with all that is shown of them."""
    rows = Run.objects.within(view.workshop).select_related("formula", "batch", "expected_cure", "by_user", "by_device")
    return rows.prefetch_related("reservations", "expected_cure__places", "changes__by_user", "changes__by_device")


class Runs(Listing):
    """The workshop's runs."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Run
    serializer_class = RunOut
    filterset_class = RunFilters
    ordering_fields = ("pour_on", "id")
    ordering = "pour_on"
    rows = runs_shown

    @extend_schema(request=RunIn, responses={201: RunOut})
    def post(self, request: Request) -> Response:
        """Plan a run; what it takes is reserved for its day, short or not."""
        sent = self.body(RunIn)
        version = self.here(FormulaVersion.objects.within(self.workshop), sent.pop("version"), what="version", field="version")
        return self.made(plan_run(actor=self.actor, version=version, at=self.at, **sent).pk)


class OneRun(Detail):
    """A run."""

    reads = Right.SEE
    model = Run
    serializer_class = RunOut
    rows = runs_shown


class OfRun(Detail):
    """Something done with a run."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Run
    serializer_class = RunOut
    rows = runs_shown
    http_method_names = ("post", "options")

    def run(self, pk: int) -> Run:
        """Return the run of the address."""
        return self.here(runs_shown(self), pk, what="run")


class MoveRun(OfRun):
    """Putting a run on another day."""

    @extend_schema(request=MoveRunIn, responses={200: RunOut})
    def post(self, request: Request, pk: int) -> Response:
        """Put a run on another day; the day on which it was announced stays."""
        move_run(actor=self.actor, run=self.run(pk), at=self.at, **self.body(MoveRunIn))
        return Response(self.shown(pk), status=status.HTTP_200_OK)


class CallOffRun(OfRun):
    """Calling a run off."""

    @extend_schema(request=CallOffRunIn, responses={200: RunOut})
    def post(self, request: Request, pk: int) -> Response:
        """Call a run off: what was reserved for it is free again."""
        call_off_run(actor=self.actor, run=self.run(pk), at=self.at, **self.body(CallOffRunIn))
        return Response(self.shown(pk), status=status.HTTP_200_OK)


class ReserveRun(OfRun):
    """Reserving anew what a run takes."""

    @extend_schema(request=ReserveIn, responses={200: RunOut})
    def post(self, request: Request, pk: int) -> Response:
        """Reserve what a run takes by its formula and the lots of today, in the size that is sent."""
        reserve_run(actor=self.actor, run=self.run(pk), at=self.at, **self.body(ReserveIn))
        return Response(self.shown(pk), status=status.HTTP_200_OK)


class PourRun(OfRun):
    """Saying which batch came of a run."""

    writes = Right.POUR

    @extend_schema(request=PourRunIn, responses={200: RunOut})
    def post(self, request: Request, pk: int) -> Response:
        """Say that a batch of its formula, entered before without it, is what became of a run."""
        run, key = self.run(pk), self.body(PourRunIn)["batch"]
        batch = self.here(Batch.objects.within(self.workshop), key, what="batch", field="batch")
        link_run(actor=self.actor, run=run, batch=batch, at=self.at)
        return Response(self.shown(pk), status=status.HTTP_200_OK)
