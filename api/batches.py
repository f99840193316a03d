"""Batches: entered, cut, listed."""

from typing import Any

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import ChoiceField, CountField, FigureField, FlagField, GramsField, KeyField, MomentField, TextField
from api.filtering import ChoiceFilter, DayFilter, MomentFilter, TextFilter
from api.views import Body, Detail, Listing, WorkshopView
from curehouse.common.errors import Invalid
from curehouse.curing.models import Cure, Position
from curehouse.curing.models.verdicts import State
from curehouse.flows.enter_batch import RackEntry, cut, enter_batch
from curehouse.making.models import Batch, BatchLiquid, CutNote, FormulaVersion, Run
from curehouse.making.services import LONGEST_CUT_NOTE, BatchEntry, CutSeen, LiquidEntry
from curehouse.workshops.roles import Right

WHEN_FULL = [
    ("refuse", "refuse, and say what would help"),
    ("raise", "raise this position's capacity"),
    ("elsewhere", "put the rest elsewhere"),
]


class LiquidOut(serializers.ModelSerializer):
    """A liquid that went in."""

    class Meta:
        model = BatchLiquid
        fields = read_only_fields = ["kind", "mass_g", "water_fraction", "place"]


class CureOut(serializers.ModelSerializer):
    """Where a batch's cure stands."""

    class Meta:
        model = Cure
        fields = read_only_fields = ["state", "state_since", "assessment", "last_weighed_at", "due_on", "ended_at"]


class BatchOut(serializers.ModelSerializer):
    """A batch, with where its cure stands once it is cut."""

    name = serializers.CharField(source="__str__", read_only=True)
    formula_name = serializers.CharField(source="formula.name", read_only=True)
    version = serializers.IntegerField(
        source="version_id", read_only=True, allow_null=True, help_text="The version of the formula it was poured from."
    )
    naoh_g = serializers.DecimalField(
        max_digits=10, decimal_places=3, read_only=True, allow_null=True, help_text="Of the lye; null where nobody said."
    )
    water_share = serializers.FloatField(read_only=True, help_text="Stated, or else computed; 0 to 1 of the fresh bar.")
    liquids = LiquidOut(many=True, read_only=True)
    cure = CureOut(read_only=True, allow_null=True)

    class Meta:
        model = Batch
        fields = read_only_fields = [
            "id",
            "number",
            "name",
            "known_as",
            "is_brought_in",
            "formula",
            "formula_name",
            "version",
            "needs_check",
            "superfat_low",
            "superfat_middle",
            "superfat_high",
            "superfat_effective",
            "superfat_effective_low",
            "superfat_effective_high",
            "superfat_by_lots",
            "state",
            "poured_at",
            "pour_known",
            "cut_at",
            "bars_cut",
            "bars_left",
            "fats_g",
            "lye_g",
            "naoh_g",
            "koh_g",
            "lye_confirmed",
            "liquids",
            "water_share",
            "water_share_computed",
            "water_share_stated",
            "note",
            "cure",
            "written_at",
        ]


class LiquidIn(Body):
    """A liquid: grams of a kind; a water fraction of one's own beats the table's."""

    kind = TextField(max_length=40)
    mass_g = GramsField()
    water_fraction = FigureField(max_digits=5, decimal_places=4, required=False, allow_null=True)
    place = ChoiceField(choices=BatchLiquid.Place.choices, default=BatchLiquid.Place.FRONT)


class RackIn(Body):
    """What is said at the cut besides the bars."""

    sample_bars = CountField(default=3)
    position = KeyField(required=False, allow_null=True, help_text="Where the bars go; without it they have no place yet.")
    when_full = ChoiceField(choices=WHEN_FULL, default="refuse")
    gel = ChoiceField(
        choices=CutNote.Gel.choices,
        required=False,
        allow_blank=True,
        default="",
        help_text="Seen at the cut; empty: nobody looked.",
    )
    trim_g = GramsField(required=False, allow_null=True, help_text="The trimmings of the cut; 0 where there were none.")
    cut_note = TextField(max_length=LONGEST_CUT_NOTE, required=False, allow_blank=True, default="")


class BatchIn(RackIn):
    """A batch that was poured, and cut if ``cut_at`` is there."""

    formula_name = TextField(max_length=200, required=False, help_text="Needed without a version.")
    version = KeyField(required=False, allow_null=True, help_text="The version of a formula it was poured from.")
    run = KeyField(required=False, allow_null=True, help_text="The planned run of its formula that it is poured for.")
    poured_at = MomentField()
    cut_at = MomentField(required=False, allow_null=True)
    bars = CountField(default=0, help_text="How many bars it was cut into.")
    fats_g = GramsField()
    lye_g = GramsField(help_text="All lye, whatever alkali it is.")
    koh_g = FigureField(
        max_digits=10,
        decimal_places=3,
        required=False,
        allow_null=True,
        help_text="How much of it is potassium hydroxide; without it as the formula has it, if that has one alkali only.",
    )
    lye_confirmed = FlagField(
        default=False, help_text="Keep an amount of lye that is out of the usual for so much fat; without it the answer is 409."
    )
    liquids = LiquidIn(many=True, required=False, max_length=20)
    water_share_stated = FigureField(max_digits=5, decimal_places=4, required=False, allow_null=True)
    note = TextField(max_length=4000, required=False, allow_blank=True)


class CutIn(RackIn):
    """The cut of a batch that was poured before."""

    cut_at = MomentField()
    bars = CountField()
    at_kept = FlagField(
        default=False, help_text="Put the bars at the places kept for the run it came of, as far as there is room at them."
    )


class BatchFilters(filters.FilterSet):
    """Which batches."""

    state = ChoiceFilter(choices=Batch.State.choices)
    cure_state = ChoiceFilter(field_name="cure__state", choices=State.choices)
    due_by = DayFilter(field_name="cure__due_on", lookup_expr="lte", help_text="To be weighed on or before a day.")
    formula_name = TextFilter(field_name="formula__name", lookup_expr="iexact")
    known_as = TextFilter(field_name="known_as", lookup_expr="iexact")
    poured_after = MomentFilter(field_name="poured_at", lookup_expr="gte")
    poured_before = MomentFilter(field_name="poured_at", lookup_expr="lt")


def batches_shown(view: WorkshopView) -> QuerySet[Batch]:
    """Return the batches with all that is shown of them."""
    return Batch.objects.within(view.workshop).select_related("formula", "cure").prefetch_related("liquids")


def rack_entry(view: WorkshopView, sent: dict[str, Any]) -> RackEntry:
    """Return what was said of sample bars and place."""
    key = sent.get("position")
    positions = Position.objects.within(view.workshop).select_related("rack")
    position = None if key is None else view.here(positions, key, what="position", field="position")
    return RackEntry(
        sample_bars=sent["sample_bars"],
        position=position,
        at_kept=sent.get("at_kept", False),
        when_full=sent["when_full"],
        seen=CutSeen(sent["gel"], sent.get("trim_g"), sent["cut_note"]),
    )


def _batch_entry(view: WorkshopView, sent: dict[str, Any]) -> BatchEntry:
    key, versions = sent.get("version"), FormulaVersion.objects.within(view.workshop).select_related("formula")
    version = None if key is None else view.here(versions, key, what="version", field="version")
    name = sent.get("formula_name", "") if version is None else version.formula.name
    if sent.get("formula_name", name) != name:
        raise Invalid("another_formula", f"This version is of {name}: leave the name out.", field="formula_name")
    return BatchEntry(
        formula_name=name,
        version=version,
        poured_at=sent["poured_at"],
        cut_at=sent.get("cut_at"),
        bars=sent["bars"],
        fats_g=sent["fats_g"],
        lye_g=sent["lye_g"],
        koh_g=sent.get("koh_g"),
        lye_confirmed=sent["lye_confirmed"],
        liquids=[LiquidEntry(**one) for one in sent.get("liquids", ())],
        water_share_stated=sent.get("water_share_stated"),
        note=sent.get("note", ""),
    )


class Batches(Listing):
    """The workshop's batches."""

    reads = Right.SEE
    writes = Right.POUR
    model = Batch
    serializer_class = BatchOut
    filterset_class = BatchFilters
    ordering_fields = ("poured_at", "number", "id")
    ordering = "-poured_at"
    rows = batches_shown

    @extend_schema(request=BatchIn, responses={201: BatchOut})
    def post(self, request: Request) -> Response:
        """Enter a batch; if it was cut, its sample bars are marked and its cure begins.

        Lye that is out of the usual for the fats is answered with ``lye_doubtful`` (409) and the
        usual bounds, until ``lye_confirmed`` comes with it. It finds slips, no wrong recipe.
        """
        sent = self.body(BatchIn)
        rack = rack_entry(self, sent)
        key = sent.get("run")
        run = None if key is None else self.here(Run.objects.within(self.workshop), key, what="run", field="run")
        batch = enter_batch(actor=self.actor, entry=_batch_entry(self, sent), rack=rack, run=run, at=self.at)
        return Response(self.shown(batch.pk), status=status.HTTP_201_CREATED)


class OneBatch(Detail):
    """A batch."""

    reads = Right.SEE
    model = Batch
    serializer_class = BatchOut
    rows = batches_shown


class Cut(Detail):
    """The cut of a batch."""

    reads = Right.SEE
    writes = Right.POUR
    model = Batch
    serializer_class = BatchOut
    rows = batches_shown
    http_method_names = ("post", "options")

    @extend_schema(request=CutIn, responses={200: BatchOut})
    def post(self, request: Request, pk: int) -> Response:
        """Note that the batch was cut: its sample bars are marked and its cure begins."""
        batch = self.here(Batch.objects.within(self.workshop), pk, what="batch")
        sent = self.body(CutIn)
        rack = rack_entry(self, sent)
        cut(actor=self.actor, batch=batch, cut_at=sent["cut_at"], bars=sent["bars"], rack=rack, at=self.at)
        return Response(self.shown(pk))
