"""Runs that are planned: checked against the storeroom, announced, moved, called off."""

from datetime import date
from typing import Any

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import DayField, GramsField, KeyField, TextField
from api.filtering import KeyFilter
from api.views import Body, Detail, Listing, WorkshopView
from curehouse.core.stock.netting import Prospect, Supplied
from curehouse.flows.check_run import Held, Shares, hold_run, share_out
from curehouse.flows.enter_batch import link_run
from curehouse.flows.runs import call_off_run, move_run, plan_run, reserve_run
from curehouse.making.formulas.reading import version_here
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


class RunQuery(Body):
    """How much, and for when."""

    fats_g = GramsField(help_text="The oils, in grams.")
    pour_on = DayField()


class RunIn(RunQuery):
    """A run to be planned."""

    version = KeyField(help_text="The id of the formula's version.")
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


class TakenOut(serializers.Serializer):
    """Grams of one lot, or of what an order brings."""

    lot = serializers.IntegerField(allow_null=True)
    order = serializers.IntegerField(allow_null=True)
    amount_g = serializers.FloatField()


class SuppliedOut(serializers.Serializer):
    """How a material stands on the day, in grams; here and coming, less taken before and kept for later, is free."""

    needed_g = serializers.FloatField()
    here_g = serializers.FloatField()
    coming_g = serializers.FloatField()
    taken_before_g = serializers.FloatField()
    kept_for_later_g = serializers.FloatField()
    free_g = serializers.FloatField()
    short_g = serializers.FloatField()
    made_up_g = serializers.FloatField(help_text="Of what is made from others: what its own lots do not give.")
    takes = TakenOut(many=True)


class MaterialCheckOut(serializers.Serializer):
    """One material: as orders likely come, and as they have safely come."""

    material = serializers.IntegerField()
    name = serializers.CharField()
    likely = SuppliedOut()
    safe = SuppliedOut()
    order_by = serializers.DateField(allow_null=True, help_text="null: nothing is short, or nobody knows how long it takes.")
    too_late = serializers.BooleanField()


class ProspectOut(serializers.Serializer):
    """Whether the run can be poured on its day, and the first days on which it can; null: not within four months."""

    possible = serializers.BooleanField()
    first_day = serializers.DateField(allow_null=True)
    first_day_if_ordered_today = serializers.DateField(allow_null=True)


class DaylessOut(serializers.Serializer):
    """What is on its way and not counted on, for nobody knows when it comes."""

    order = serializers.IntegerField()
    material = serializers.IntegerField()
    name = serializers.CharField()
    amount_g = serializers.DecimalField(max_digits=15, decimal_places=3)


class RunCheckOut(serializers.Serializer):
    """A run held against the storeroom, with the runs that are planned protected."""

    standing = serializers.ChoiceField(choices=STANDINGS)
    likely = ProspectOut()
    safe = ProspectOut()
    materials = MaterialCheckOut(many=True)
    not_kept = NotKeptOut(many=True)
    dayless = DaylessOut(many=True)


def _day(ordinal: int | None) -> date | None:
    return None if ordinal is None else date.fromordinal(ordinal)


def _supplied(one: Supplied, held: Held) -> dict[str, Any]:
    names = ("needed_g", "here_g", "coming_g", "taken_before_g", "kept_for_later_g", "free_g", "short_g", "made_up_g")
    takes = [
        {
            "lot": held.lots[taken.supply].pk if taken.supply in held.lots else None,
            "order": held.arrivals[taken.supply].line.order_id if taken.supply in held.arrivals else None,
            "amount_g": taken.amount,
        }
        for taken in one.takes
    ]
    return {**{name: round(getattr(one, name), 3) for name in names}, "takes": takes}


def _prospect(one: Prospect) -> dict[str, Any]:
    return {
        "possible": one.possible,
        "first_day": _day(one.first_day),
        "first_day_if_ordered_today": _day(one.first_day_if_ordered_today),
    }


def _checked(held: Held) -> dict[str, Any]:
    return {
        "standing": held.standing,
        "likely": _prospect(held.found.likely),
        "safe": _prospect(held.found.safe),
        "materials": [
            {
                "material": held.materials[one.material].pk,
                "name": held.materials[one.material].name,
                "likely": _supplied(one.likely, held),
                "safe": _supplied(one.safe, held),
                "order_by": _day(one.order_by),
                "too_late": one.too_late,
            }
            for one in held.found.materials
        ],
        "not_kept": [{"name": need.name, "amount_g": need.amount_g} for need in held.not_kept],
        "dayless": [
            {
                "order": one.line.order_id,
                "material": one.line.material_id,
                "name": one.line.material.name,
                "amount_g": one.amount,
            }
            for one in held.dayless
        ],
    }


class RunFilters(filters.FilterSet):
    """Which runs."""

    formula = KeyFilter(field_name="formula")


def runs_shown(view: WorkshopView) -> QuerySet[Run]:
    """Return the runs with all that is shown of them."""
    rows = Run.objects.within(view.workshop).select_related("formula", "by_user", "by_device")
    return rows.prefetch_related("reservations", "changes__by_user", "changes__by_device")


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


class _OfRun(Detail):
    reads = Right.SEE
    writes = Right.MAKE
    model = Run
    serializer_class = RunOut
    rows = runs_shown
    http_method_names = ("post", "options")

    def run(self, pk: int) -> Run:
        """Return the run of the address."""
        return self.here(runs_shown(self), pk, what="run")


class MoveRun(_OfRun):
    """Putting a run on another day."""

    @extend_schema(request=MoveRunIn, responses={200: RunOut})
    def post(self, request: Request, pk: int) -> Response:
        """Put a run on another day; the day on which it was announced stays."""
        move_run(actor=self.actor, run=self.run(pk), at=self.at, **self.body(MoveRunIn))
        return Response(self.shown(pk), status=status.HTTP_200_OK)


class CallOffRun(_OfRun):
    """Calling a run off."""

    @extend_schema(request=CallOffRunIn, responses={200: RunOut})
    def post(self, request: Request, pk: int) -> Response:
        """Call a run off: what was reserved for it is free again."""
        call_off_run(actor=self.actor, run=self.run(pk), at=self.at, **self.body(CallOffRunIn))
        return Response(self.shown(pk), status=status.HTTP_200_OK)


class ReserveRun(_OfRun):
    """Reserving anew what a run takes."""

    @extend_schema(request=ReserveIn, responses={200: RunOut})
    def post(self, request: Request, pk: int) -> Response:
        """Reserve what a run takes by its formula and the lots of today, in the size that is sent."""
        reserve_run(actor=self.actor, run=self.run(pk), at=self.at, **self.body(ReserveIn))
        return Response(self.shown(pk), status=status.HTTP_200_OK)


class PourRun(_OfRun):
    """Saying which batch came of a run."""

    writes = Right.POUR

    @extend_schema(request=PourRunIn, responses={200: RunOut})
    def post(self, request: Request, pk: int) -> Response:
        """Say that a batch of its formula, entered before without it, is what became of a run."""
        run, key = self.run(pk), self.body(PourRunIn)["batch"]
        batch = self.here(Batch.objects.within(self.workshop), key, what="batch", field="batch")
        link_run(actor=self.actor, run=run, batch=batch, at=self.at)
        return Response(self.shown(pk), status=status.HTTP_200_OK)


class VersionRunCheck(Detail):
    """Whether a run of a version can be poured."""

    reads = Right.SEE
    model = FormulaVersion
    serializer_class = RunCheckOut

    def rows(self) -> QuerySet[FormulaVersion]:
        """Return the versions."""
        return FormulaVersion.objects.within(self.workshop)

    @extend_schema(parameters=[RunQuery], responses={200: RunCheckOut})
    def get(self, request: Request, pk: int) -> Response:
        """Hold a run against lots, orders on their way and the runs that are planned; nothing is kept."""
        version = version_here(self.workshop, pk)
        asked: dict[str, Any] = RunQuery().run_validation(request.query_params.dict())
        return Response(RunCheckOut(_checked(hold_run(version=version, at=self.at, **asked))).data)
