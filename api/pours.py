"""Pours at the table: begun, told step by step, and ended."""

from typing import Any

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import ChoiceField, ClientKeyField, FigureField, FlagField, GramsField, KeyField, KeysField, TextField
from api.filtering import KeyFilter
from api.views import Body, Detail, Listing, WorkshopView
from curehouse.common.errors import Invalid
from curehouse.core.chemistry.at_table import Answer
from curehouse.flows.pour import Stopped, begin, finish, say, stop
from curehouse.making.models import FormulaVersion, Pour, PourStep, Run
from curehouse.making.pouring.saying import Said
from curehouse.making.pouring.table import Kind, Table, read_table
from curehouse.making.pouring.words import answer_words, water_words
from curehouse.workshops.models import Scale
from curehouse.workshops.roles import Right
from inventory.models import Lot, Movement

_ENDS = (Kind.FINISHED, Kind.STOPPED)
SAYINGS = [kind.value for kind in Kind if kind not in _ENDS]


class PourStepOut(serializers.ModelSerializer):
    """One thing that was said of a pour."""

    is_in_force = serializers.SerializerMethodField(help_text="Neither corrected nor said by mistake.")
    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = PourStep
        fields = read_only_fields = [
            "id",
            "client_id",
            "kind",
            "slot",
            "lot",
            "target_g",
            "amount_g",
            "scale",
            "celsius",
            "words",
            "stands",
            "is_mend",
            "corrects",
            "is_in_force",
            "signed_by",
            "at",
        ]

    def get_is_in_force(self, step: PourStep) -> bool:
        """Return whether the step stands."""
        return step.kind != Kind.UNSAID and not hasattr(step, "corrected_by")


class PourRowOut(serializers.ModelSerializer):
    """A pour as a list shows it."""

    formula_name = serializers.CharField(source="version.formula.name", read_only=True)
    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = Pour
        fields = read_only_fields = [
            "id",
            "version",
            "formula_name",
            "run",
            "state",
            "fats_g",
            "batch",
            "begun_at",
            "ended_at",
            "signed_by",
        ]


class PourLineOut(serializers.Serializer):
    """A line of the sheet, in the order of the table."""

    slot = serializers.CharField(source="slot.key")
    name = serializers.CharField(source="slot.name")
    role = serializers.CharField(source="slot.role")
    material = serializers.IntegerField(source="slot.material", allow_null=True)
    target_g = serializers.DecimalField(
        max_digits=13, decimal_places=3, allow_null=True, help_text="Still to be weighed; null where no amount is told."
    )
    meant_g = serializers.DecimalField(
        max_digits=13, decimal_places=3, allow_null=True, help_text="Meant altogether, fat that mends lye apart."
    )
    weighed_g = serializers.DecimalField(max_digits=13, decimal_places=3)
    step_g = serializers.FloatField(help_text="The step of its scale: what is further off is asked about.")
    is_done = serializers.BooleanField()


class MendOut(serializers.Serializer):
    """A fat that makes the low end of the superfat safe."""

    slot = serializers.CharField()
    add_g = serializers.FloatField()
    low = serializers.FloatField(help_text="The low end of the superfat then (0.05 is 5 %).")


class AnswerOut(serializers.Serializer):
    """What to do by the low end of the superfat."""

    answer = serializers.ChoiceField(choices=[one.value for one in Answer])
    says = serializers.CharField()
    water = serializers.CharField(
        help_text="What is said where the water in front cannot dissolve the lye; empty where it can."
    )
    low = serializers.FloatField(allow_null=True, help_text="Shares: 0.05 is 5 %.")
    middle = serializers.FloatField(allow_null=True)
    high = serializers.FloatField(allow_null=True)
    mends = MendOut(many=True)


class PourOut(PourRowOut):
    """A pour with all that was said of it, what comes next, and what its lye says."""

    next = serializers.SerializerMethodField(help_text="The kind of the next step, or the slot to weigh; null: none.")
    lines = serializers.SerializerMethodField()
    answer = serializers.SerializerMethodField(help_text="Null while it has no lye, and once it is over.")
    steps = PourStepOut(many=True, read_only=True)

    class Meta(PourRowOut.Meta):
        fields = read_only_fields = [*PourRowOut.Meta.fields, "next", "lines", "answer", "steps"]

    def _table(self, pour: Pour) -> Table:
        kept = self.context.setdefault("tables", {})
        if pour.pk not in kept:
            kept[pour.pk] = read_table(pour)
        return kept[pour.pk]

    @extend_schema_field(serializers.CharField(allow_null=True))
    def get_next(self, pour: Pour) -> str | None:
        """Return the next step of a pour that is under way."""
        return self._table(pour).next if pour.state == Pour.State.OPEN else None

    @extend_schema_field(PourLineOut(many=True))
    def get_lines(self, pour: Pour) -> list[dict[str, Any]]:
        """Return the lines of the sheet."""
        return PourLineOut(list(self._table(pour).lines.values()), many=True).data

    @extend_schema_field(AnswerOut(allow_null=True))
    def get_answer(self, pour: Pour) -> dict[str, Any] | None:
        """Return what to do with a pour that is under way."""
        table = self._table(pour)
        if pour.state != Pour.State.OPEN or not (table.has_lye or table.must_stop):
            return None
        little = table.too_little_water
        found, ends = table.found, None if table.found.superfat is None else table.found.superfat.of_fats
        return {
            "answer": found.answer.value,
            "says": answer_words(found),
            "water": "" if little is None or table.is_past_trace else water_words(little, pour.workshop.unit),
            "low": None if ends is None else round(ends.low, 6),
            "middle": None if ends is None else round(ends.middle, 6),
            "high": None if ends is None else round(ends.high, 6),
            "mends": [
                {"slot": table.slot_of(one).key, "add_g": one.add_g, "low": round(one.superfat.of_fats.low, 6)}
                for one in found.remedies
            ],
        }


class BeginPourIn(Body):
    """A pour to be begun: of a planned run, which has its version and its size, or of a version."""

    run = KeyField(required=False, default=None, allow_null=True)
    version = KeyField(required=False, default=None, allow_null=True, help_text="The formula's version, without a run.")
    fats_g = GramsField(required=False, default=None, allow_null=True, help_text="The oils, in grams, without a run.")


class PourStepIn(Body):
    """One thing said at the table."""

    client_id = ClientKeyField(help_text="Made by the client: the same sent again is answered with the step that is there.")
    kind = ChoiceField(SAYINGS)
    slot = TextField(max_length=10, required=False, default="", allow_blank=True, help_text="Of a weighing: its line.")
    lot = KeyField(required=False, default=None, allow_null=True)
    amount_g = GramsField(required=False, default=None, allow_null=True, help_text="What the scale shows; 0 leaves it out.")
    scale = KeyField(required=False, default=None, allow_null=True, help_text="Null: the line's own.")
    celsius = FigureField(max_digits=4, decimal_places=1, required=False, default=None, allow_null=True)
    words = TextField(max_length=400, required=False, default="", allow_blank=True)
    stands = FlagField(required=False, default=False, help_text="It stands though it is not as meant.")
    is_part = FlagField(required=False, default=False, help_text="More of it comes.")
    is_mend = FlagField(required=False, default=False, help_text="This fat is added to make the lye safe.")
    corrects = KeyField(required=False, default=None, allow_null=True, help_text="The id of the step in whose place it comes.")


class StopPourIn(Body):
    """Why a pour is stopped, and what became of what was weighed."""

    why = TextField(max_length=300)
    met = FlagField(required=False, default=False, help_text="Lye and fats had met: a batch is written, and held.")
    into_batch = FlagField(required=False, default=False, help_text="They had not, and it is kept as a batch that is held.")
    spoilt = KeysField(required=False, default=list, help_text="Ids of weighings: written off.")


class PourFilters(filters.FilterSet):
    """Which pours."""

    run = KeyFilter(field_name="run")


def pours_shown(view: WorkshopView) -> QuerySet[Pour]:
    """Return the pours with all that a list shows of them."""
    return Pour.objects.within(view.workshop).named()


class Pours(Listing):
    """The workshop's pours at the table."""

    reads = Right.SEE
    writes = Right.POUR
    model = Pour
    serializer_class = PourRowOut
    filterset_class = PourFilters
    ordering_fields = ("begun_at", "id")
    ordering = "-id"
    rows = pours_shown

    @extend_schema(request=BeginPourIn, responses={201: PourRowOut}, filters=False)
    def post(self, request: Request) -> Response:
        """Begin a pour; what is to be weighed is worked out now, by the lots of today."""
        sent = self.body(BeginPourIn)
        run = None
        if sent["run"] is not None:
            runs = Run.objects.within(self.workshop).select_related("formula", "version__formula")
            run = self.here(runs, sent["run"], what="run", field="run")
            version, fats_g = run.version, run.fats_g
        elif sent["version"] is None or sent["fats_g"] is None:
            said = "Send the run that is poured, or the version and its fats_g."
            raise Invalid("missing", said, field="version" if sent["version"] is None else "fats_g")
        else:
            versions = FormulaVersion.objects.within(self.workshop).select_related("formula")
            version, fats_g = self.here(versions, sent["version"], what="version", field="version"), sent["fats_g"]
        return self.made(begin(actor=self.actor, version=version, fats_g=fats_g, run=run, at=self.at).pk)


class OnePour(Detail):
    """A pour as it stands."""

    reads = Right.SEE
    model = Pour
    serializer_class = PourOut

    def rows(self) -> QuerySet[Pour]:
        """Return the pours with their steps."""
        steps = ("steps__by_user", "steps__by_device", "steps__corrected_by")
        return pours_shown(self).select_related("workshop").prefetch_related(*steps)


class OfPour(OnePour):
    """Something done at the table."""

    writes = Right.POUR
    http_method_names = ("post", "options")

    def pour(self, pk: int) -> Pour:
        """Return the pour of the address."""
        return self.here(pours_shown(self), pk, what="pour")


class SayPourStep(OfPour):
    """Saying a step."""

    @extend_schema(request=PourStepIn, responses={200: PourOut})
    def post(self, request: Request, pk: int) -> Response:
        """Say what was done at the table; what is off is asked about (409) until `stands` comes with it."""
        pour, sent = self.pour(pk), self.body(PourStepIn)
        if sent["lot"] is not None:
            lots = Lot.objects.within(self.workshop).named()
            sent["lot"] = self.here(lots, sent["lot"], what="lot", field="lot")
        if sent["scale"] is not None:
            scales = Scale.objects.within(self.workshop).in_use()
            sent["scale"] = self.here(scales, sent["scale"], what="scale", field="scale")
        say(actor=self.actor, pour=pour, said=Said(**sent), at=self.at)
        return Response(self.shown(pk), status=status.HTTP_200_OK)


class FinishPour(OfPour):
    """Finishing a pour."""

    @extend_schema(request=None, responses={200: PourOut})
    def post(self, request: Request, pk: int) -> Response:
        """End a pour: its batch, what its lots gave, its superfat and its run, all at once."""
        finish(actor=self.actor, pour=self.pour(pk), at=self.at, source=Movement.Source.API)
        return Response(self.shown(pk), status=status.HTTP_200_OK)


class StopPour(OfPour):
    """Stopping a pour."""

    @extend_schema(request=StopPourIn, responses={200: PourOut})
    def post(self, request: Request, pk: int) -> Response:
        """Stop a pour: once lye and fats had met its batch is held, before that its run stays planned."""
        stop(
            actor=self.actor,
            pour=self.pour(pk),
            stopped=Stopped(**self.body(StopPourIn)),
            at=self.at,
            source=Movement.Source.API,
        )
        return Response(self.shown(pk), status=status.HTTP_200_OK)
