"""Spreadsheets come in: sent and checked, looked at, brought in whole or not at all."""

from pathlib import Path
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.db.models import QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import ChoiceField, ColumnsField, CountField, FileField, FlagField, TextField
from api.filtering import ChoiceFilter
from api.parsers import FilesParser
from api.views import Body, Detail, Listing, WorkshopView
from curehouse.common.tables import MOST_BYTES
from curehouse.flows.bring_in.door import FileGiven
from curehouse.flows.bring_in.kinds import KINDS
from curehouse.flows.bring_in.options import DATE_ORDERS, ENCODING_WORDS, SHARES, UNITS
from curehouse.flows.bring_in.progress import how_far
from curehouse.flows.bring_in.sent import Said, check_again, send_in
from curehouse.intake.models import Import
from curehouse.intake.services import begin_bringing
from curehouse.workshops.roles import Right

_UNDER_WAY = (Import.State.CHECKING, Import.State.BRINGING)
_MEGABYTES = MOST_BYTES // 2**20
KIND_CHOICES = [(kind.key, kind.label) for kind in KINDS.values()]

_MARKS = {"point": ".", "comma": ","}
UNIT_CHOICES = [(unit, unit) for unit in UNITS]


def _named(words: dict[str, str]) -> list[tuple[str, str]]:
    return [(key, label) for key, label in words.items() if key]


class RefusalOut(serializers.Serializer):
    """A row that cannot be taken: the cell, what stands there, and what to do."""

    table = serializers.CharField()
    row = serializers.IntegerField()
    cell = serializers.CharField()
    header = serializers.CharField()
    value = serializers.CharField()
    why = serializers.CharField()


class CountsOut(serializers.Serializer):
    """What checking came to; with a refused row nothing of a file comes in."""

    rows_read = serializers.IntegerField()
    refused_rows = serializers.IntegerField()
    adds = serializers.DictField(child=serializers.IntegerField(), help_text="What is new, by what it is.")
    known = serializers.DictField(child=serializers.IntegerField(), help_text="What is here already.")


class AsReadOut(serializers.Serializer):
    """Rows of a file as they were read, in words with their units, beneath their headers; the row's number first."""

    headers = serializers.ListField(child=serializers.CharField())
    rows = serializers.ListField(child=serializers.ListField(child=serializers.CharField()))


class OutcomeOut(CountsOut):
    """What checking came to, row by row."""

    refusals = RefusalOut(many=True, help_text="The first 1,000.")
    left_out = serializers.ListField(child=serializers.CharField(), help_text="What is left out unless asked for.")
    left_out_count = serializers.IntegerField()
    remarks = serializers.ListField(child=serializers.CharField())
    as_read = AsReadOut(help_text="The first rows as they were read.")


class ProgressOut(serializers.Serializer):
    """How far the house is with a file."""

    step = serializers.CharField()
    done = serializers.IntegerField()
    of = serializers.IntegerField()
    said_at = serializers.DateTimeField(help_text="When it last moved on.")


class ImportOut(serializers.ModelSerializer):
    """A file that is checked or brought in, and what that came to."""

    outcome = CountsOut(read_only=True, allow_null=True)
    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = Import
        fields = read_only_fields = [
            "id",
            "kind",
            "name",
            "sha256",
            "beside_name",
            "state",
            "said",
            "outcome",
            "signed_by",
            "laid_out_at",
            "changed_at",
        ]


class OneImportOut(ImportOut):
    """A file with how it is read, how far the house is with it, and each row that is refused."""

    outcome = OutcomeOut(read_only=True, allow_null=True)
    options = serializers.DictField(read_only=True, help_text="How it is read; columns by their place, counted from 0.")
    progress = serializers.SerializerMethodField()

    class Meta(ImportOut.Meta):
        fields = read_only_fields = [*ImportOut.Meta.fields, "options", "progress"]

    @extend_schema_field(ProgressOut(allow_null=True))
    def get_progress(self, brought: Import) -> dict[str, Any] | None:
        """Return how far the house is, or None where it is not at it."""
        far = how_far(brought) if brought.state in _UNDER_WAY else None
        return None if far is None else {"step": far.step, "done": far.done, "of": far.of, "said_at": far.said_at}


class ReadingOptions(Body):
    """How a file is read: what is left out is found out, or stays as it was said before."""

    columns = ColumnsField(required=False, help_text="What columns are, by their headers; nothing: left out.")
    beside_columns = ColumnsField(required=False, help_text="The same of the second table.")
    sheet = TextField(max_length=120, required=False, help_text="Of an XLSX file.")
    delimiter = TextField(max_length=1, required=False, trim_whitespace=False, help_text="What separates the cells.")
    encoding = TextField(max_length=40, required=False, help_text=f"Of a CSV file: {', '.join(ENCODING_WORDS)}.")
    header_row = CountField(required=False, help_text="The row that names the columns; 0 where none does.")
    date_order = ChoiceField(choices=_named(DATE_ORDERS), required=False)
    decimal = ChoiceField(choices=[("point", "as in 118.6"), ("comma", "as in 118,6")], required=False)
    unit = ChoiceField(choices=UNIT_CHOICES, required=False, help_text="Of masses that name none.")
    share_in = ChoiceField(choices=_named(SHARES), required=False, help_text="How water shares are written.")
    water_share = TextField(max_length=20, required=False, help_text="Of all batches, where no column holds it.")
    formula = TextField(max_length=200, required=False, help_text="Of all batches, where no column holds it.")
    still_curing = FlagField(required=False, help_text="The batches still cure, however long ago the last weighing.")
    as_of = TextField(
        max_length=40,
        required=False,
        help_text="The day (its morning), or day and time, of which a stock list tells; this morning unless it is said.",
    )
    with_unweighed = FlagField(required=False, help_text="Bring in batches that have no weighing too.")


class ImportIn(ReadingOptions):
    """A file, what it holds, and how it is read."""

    kind = ChoiceField(choices=KIND_CHOICES)
    file = FileField(help_text=f"CSV or XLSX, up to {_MEGABYTES} MB.")
    beside = FileField(required=False, help_text="A second table, such as the batches' cut dates.")


class ImportFilters(filters.FilterSet):
    """Which imports."""

    kind = ChoiceFilter(choices=KIND_CHOICES)
    state = ChoiceFilter(choices=Import.State.choices)


def imports_shown(view: WorkshopView) -> QuerySet[Import]:
    """Return the imports with who sent them."""
    return Import.objects.within(view.workshop).select_related("by_user", "by_device")


def _said(sent: dict[str, Any]) -> Said:
    columns, beside = sent.pop("columns", {}), sent.pop("beside_columns", {})
    if "decimal" in sent:
        sent["decimal"] = _MARKS[sent["decimal"]]
    return Said(options=sent, columns=columns, beside_columns=beside)


def _given(file: UploadedFile) -> FileGiven:
    return FileGiven(file.name or "table", Path(file.temporary_file_path()))


class Imports(Listing):
    """The files that were sent to come in."""

    reads = Right.MAKE
    writes = Right.MAKE
    model = Import
    serializer_class = ImportOut
    filterset_class = ImportFilters
    ordering_fields = ("laid_out_at", "changed_at", "id")
    ordering = "-id"
    rows = imports_shown
    parser_classes = (FilesParser,)
    # Two tables, each of the largest size that is taken.
    most_files = 2
    most_bytes = most_files * MOST_BYTES

    @extend_schema(request={"multipart/form-data": ImportIn}, responses={201: OneImportOut}, filters=False)
    def post(self, request: Request) -> Response:
        """Send a file to be checked; nothing of it comes in before its “bringing” is asked for.

        Look again at its address until its state is `checked`, with what it would bring and each row that
        is refused, or `failed`, with why.
        """
        sent = self.body(ImportIn)
        kind, given, beside = sent.pop("kind"), _given(sent.pop("file")), sent.pop("beside", None)
        brought = send_in(
            actor=self.actor, kind=kind, given=given, beside=beside and _given(beside), said=_said(sent), at=self.at
        )
        self.serializer_class = OneImportOut
        return self.made(brought.pk)


class OneImport(Detail):
    """A file that was sent to come in."""

    reads = Right.MAKE
    model = Import
    serializer_class = OneImportOut
    rows = imports_shown


class ImportChecks(Detail):
    """Checking a file."""

    reads = Right.MAKE
    writes = Right.MAKE
    model = Import
    serializer_class = OneImportOut
    rows = imports_shown
    http_method_names = ("post", "options")

    @extend_schema(request=ReadingOptions, responses={202: OneImportOut})
    def post(self, request: Request, pk: int) -> Response:
        """Let a file be checked once more, as it is said to be read now."""
        brought = self.here(imports_shown(self), pk, what="import")
        check_again(actor=self.actor, brought=brought, said=_said(self.body(ReadingOptions)), at=self.at)
        return Response(self.shown(pk), status=status.HTTP_202_ACCEPTED)


class Bringing(Detail):
    """Bringing a file in."""

    reads = Right.MAKE
    writes = Right.MAKE
    model = Import
    serializer_class = OneImportOut
    rows = imports_shown
    http_method_names = ("post", "options")

    @extend_schema(request=None, responses={202: OneImportOut})
    def post(self, request: Request, pk: int) -> Response:
        """Let what was checked come in: all of it, or nothing while a row is refused."""
        begin_bringing(brought=self.here(imports_shown(self), pk, what="import"), at=self.at)
        return Response(self.shown(pk), status=status.HTTP_202_ACCEPTED)
