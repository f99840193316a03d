"""Many weighings in one request: all are written, or none.

A row in its plainest form is read without the serializer, which would cost more than all the rest;
whatever is not quite plain goes to the serializer, so that rules and sentences exist once.
"""

import re
import uuid
from collections.abc import Sequence
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from api.errors import row_faults
from api.fields import LARGEST_KEY
from api.readings import DoubtOut, ReadingIn, doubt_of, entry_of
from api.views import Body, WorkshopView
from curehouse.common.errors import DomainError, Invalid
from curehouse.curing.models import Reading
from curehouse.curing.services.readings import ReadingEntry
from curehouse.flows.weigh_many import MOST_ROWS, RowFault, RowsRefused, WeighingRow, weigh_many
from curehouse.workshops.roles import Right

_PLAIN_TEXTS = ("client_id", "moment", "weight_g")
_PLAIN_FIELDS = frozenset({*_PLAIN_TEXTS, "bar", "scale"})
_PLAIN_ROW = re.compile(
    r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12} "
    r"20[0-9]{2}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{6})?(Z|[+-][0-9]{2}:[0-9]{2}) "
    r"[0-9]{1,6}(\.[0-9]{1,3})?"
)
_MILLIGRAM = Decimal("0.001")


class ReadingsIn(Body):
    """Up to a thousand weighings."""

    readings = ReadingIn(many=True)


class RowOut(serializers.Serializer):
    """What became of one row: ``sent_before`` if its id came in earlier, or earlier in this request."""

    id = serializers.IntegerField()
    client_id = serializers.UUIDField()
    result = serializers.ChoiceField(choices=["written", "sent_before"])
    doubt = DoubtOut(allow_null=True)


class RowsOut(serializers.Serializer):
    """What became of the rows, in the order they were sent."""

    written = serializers.IntegerField()
    sent_before = serializers.IntegerField()
    readings = RowOut(many=True)


class ManyReadings(WorkshopView):
    """Many weighings at once."""

    reads = Right.SEE_ROUND
    writes = Right.WEIGH
    model = Reading
    serializer_class = RowsOut
    pagination_class = None
    filter_backends = ()

    @extend_schema(request=ReadingsIn, responses={201: RowsOut, 200: RowsOut})
    def post(self, request: Request) -> Response:
        """Send up to 1,000 weighings: all are written or none, and those sent before are answered again."""
        rows = _rows(request.data)
        try:
            results = weigh_many(actor=self.actor, rows=rows, at=self.at)
        except RowsRefused as error:
            raise RowsRefused([_as_sent(fault, rows) for fault in error.faults], rows=len(rows)) from error
        written = sum(is_new for _, is_new in results)
        body = {
            "written": written,
            "sent_before": len(results) - written,
            "readings": [_shown(reading, is_new=is_new) for reading, is_new in results],
        }
        return Response(body, status=status.HTTP_201_CREATED if written else status.HTTP_200_OK)


def _shown(reading: Reading, *, is_new: bool) -> dict[str, Any]:
    result = "written" if is_new else "sent_before"
    return {"id": reading.pk, "client_id": str(reading.client_id), "result": result, "doubt": doubt_of(reading)}


def _as_sent(fault: RowFault, rows: Sequence[WeighingRow]) -> RowFault:
    """Return the fault under the field it was sent in: the verb speaks of the weight, however it came."""
    error = fault.error
    if error.field != "weight" or rows[fault.row].entry.typed:
        return fault
    return RowFault(fault.row, Invalid(error.code, error.message, field="weight_g"))


def _rows(data: Any) -> list[WeighingRow]:
    """Return the rows that were sent; every row that cannot be read is named."""
    sent = _list(data)
    reader = ReadingIn()
    rows: list[WeighingRow] = []
    faults: list[RowFault] = []
    for index, one in enumerate(sent):
        plain = plain_row(one)
        if plain is not None:
            rows.append(plain)
            continue
        try:
            values = reader.run_validation(one)
            rows.append(WeighingRow(values["bar"], values.get("scale"), entry_of(values, None)))
        except serializers.ValidationError as error:
            faults.extend(row_faults(index, error))
        except DomainError as error:
            faults.append(RowFault(index, error))
    if faults:
        raise RowsRefused(faults, rows=len(sent))
    return rows


def plain_row(sent: Any) -> WeighingRow | None:
    """Return a row in its plainest form as the serializer would read it, or None if it is not that plain."""
    if type(sent) is not dict or not _PLAIN_FIELDS.issuperset(sent):
        return None
    bar, scale, texts = sent.get("bar"), sent.get("scale"), [sent.get(name) for name in _PLAIN_TEXTS]
    if type(bar) is not int or (scale is not None and type(scale) is not int) or not all(type(one) is str for one in texts):
        return None
    if (
        not _PLAIN_ROW.fullmatch(" ".join(texts))
        or not 0 < bar <= LARGEST_KEY
        or not 0 < (1 if scale is None else scale) <= LARGEST_KEY
    ):
        return None
    client_id, moment, weight_g = texts
    try:
        entry = ReadingEntry(
            client_id=uuid.UUID(client_id),
            moment=datetime.fromisoformat(moment).astimezone(UTC),
            weight_g=Decimal(weight_g).quantize(_MILLIGRAM),
            scale=None,
            source=Reading.Source.API,
        )
    except ValueError:
        return None
    return WeighingRow(bar, scale, entry)


def _list(data: Any) -> Sequence[Any]:
    if not isinstance(data, dict) or set(data) != {"readings"} or not isinstance(data["readings"], list):
        raise Invalid("rows", "Send an object with one field, readings, a list of weighings.", field="readings")
    if not 1 <= len(data["readings"]) <= MOST_ROWS:
        raise Invalid("rows", f"Send between 1 and {MOST_ROWS} weighings at a time.", field="readings")
    return data["readings"]
