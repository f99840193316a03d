"""Papers of lots: attached, listed, fetched."""

from typing import Any

from django.db.models import QuerySet
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.renderers import BaseRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import FileField, FlagField
from api.lots import OfLot, the_lot
from api.parsers import FilesParser
from api.permissions import refusal_of
from api.views import Body, Detail, WorkshopView
from curehouse.common import uploads
from curehouse.common.file_kinds import KINDS, KINDS_IN_WORDS
from curehouse.workshops.roles import Right
from inventory.models import LotFile
from inventory.services.papers import MOST_BYTES, Paper, attach_file, content_of, look_through, may_open


class FileOut(serializers.ModelSerializer):
    """A paper of a lot; what it holds is at “content/” under its address."""

    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = LotFile
        fields = read_only_fields = [
            "id",
            "lot",
            "name",
            "content_type",
            "size_bytes",
            "sha256",
            "without_prices",
            "at",
            "signed_by",
        ]


class FileIn(Body):
    """A file to be attached."""

    file = FileField(help_text=f"{KINDS_IN_WORDS[0].upper()}{KINDS_IN_WORDS[1:]}; at most {MOST_BYTES // 2**20} MB.")
    without_prices = FlagField(
        default=False, help_text="Whether it shows no prices; what is not said to is opened by those alone who see costs."
    )


class Files(OfLot):
    """The papers of one lot."""

    model = LotFile
    serializer_class = FileOut
    parser_classes = (FilesParser,)
    most_bytes = MOST_BYTES
    paper: Paper

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Look through the file before the transaction in which it is kept begins."""
        super().initial(request, *args, **kwargs)
        if request.method == "POST":
            the_lot(self)
            file = self.body(FileIn)["file"]
            self.paper = look_through(file.name, file.read())

    @extend_schema(request={"multipart/form-data": FileIn}, responses={201: FileOut}, filters=False)
    def post(self, request: Request, pk: int) -> Response:
        """Attach a paper, such as the certificate that came with the lot."""
        lot = the_lot(self)
        without_prices = self.body(FileIn)["without_prices"]
        row = attach_file(actor=self.actor, lot=lot, paper=self.paper, at=self.at, without_prices=without_prices)
        return self.written(row)


def files_shown(view: WorkshopView) -> QuerySet[LotFile]:
    """Return the papers."""
    return LotFile.objects.within(view.workshop).select_related("by_user", "by_device")


class OneFile(Detail):
    """A paper of a lot."""

    reads = Right.SEE
    model = LotFile
    serializer_class = FileOut
    rows = files_shown


class AsItIs(BaseRenderer):
    """Bytes as they are kept, whatever the request would rather have."""

    media_type = "*/*"
    format = "bytes"
    charset = None
    render_style = "binary"

    def render(self, data: bytes, accepted_media_type: Any = None, renderer_context: Any = None) -> bytes:
        """Return the bytes."""
        return data


class FileContent(Detail):
    """What a paper holds."""

    reads = Right.SEE
    model = LotFile
    serializer_class = FileOut
    rows = files_shown
    renderer_classes = (AsItIs,)

    @extend_schema(responses={(200, kind): OpenApiTypes.BINARY for kind in KINDS})
    def get(self, request: Request, pk: int) -> Response:
        """Fetch the file, to be saved and not shown; one that may show prices needs the right to see costs."""
        file = self.here(files_shown(self), pk, what="file")
        if not may_open(file, request.rights):
            raise refusal_of(request, Right.SEE_COSTS)
        return Response(content_of(file), content_type=file.content_type, headers=uploads.handing_out(file.name))
