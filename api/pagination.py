"""Lists in parts that stay in step while rows are added: a page begins after the last row seen.

A position is the ordering's value together with the row's id, so that rows of equal value are
neither skipped nor repeated, however many there are.
"""

import base64
import json
from collections.abc import Sequence
from typing import Any

from django.core.exceptions import ValidationError as ModelValidationError
from django.db.models import Q, QuerySet
from rest_framework.exceptions import ValidationError
from rest_framework.pagination import BasePagination
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.utils.urls import replace_query_param

PAGE_SIZE = 50
LARGEST_PAGE = 200
PARAMETERS = ("cursor", "page_size", "ordering")


class AfterTheLastRow(BasePagination):
    """``?ordering=``, ``?page_size=`` and ``?cursor=``, the last as given by ``next``.

    A view names what it can be ordered by (``ordering_fields``: columns that are never empty) and
    how it is ordered unless asked otherwise (``ordering``).
    """

    def paginate_queryset(self, queryset: QuerySet, request: Request, view: Any = None) -> list[Any]:
        """Return the rows of the page asked for."""
        self._url = request.build_absolute_uri()
        self._ordering = self._ordering_of(request, view)
        size = self._size_of(request)
        name, descending = self._ordering.lstrip("-"), self._ordering.startswith("-")
        signs = [f"-{key}" if descending else key for key in dict.fromkeys([name, "id"])]
        after = request.query_params.get("cursor")
        if after is not None:
            queryset = queryset.filter(self._beyond(queryset, after, name, descending=descending))
        rows = list(queryset.order_by(*signs)[: size + 1])
        self._last = rows[size - 1] if len(rows) > size else None
        return rows[:size]

    def get_paginated_response(self, data: Sequence[Any]) -> Response:
        """Return the page with the address of the next one."""
        return Response({"next": self._next(), "results": data})

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        """Return the schema of a page of *schema*."""
        following = {"type": "string", "format": "uri", "nullable": True, "description": "Where the list goes on, or null."}
        return {"type": "object", "required": ["next", "results"], "properties": {"next": following, "results": schema}}

    def get_schema_operation_parameters(self, view: Any) -> list[dict[str, Any]]:
        """Return the query parameters a list takes besides its filters."""
        orderings = [sign + name for name in view.ordering_fields for sign in ("", "-")]
        size = {"type": "integer", "minimum": 1, "maximum": LARGEST_PAGE, "default": PAGE_SIZE}
        return [
            {"name": "cursor", "in": "query", "description": "Given by “next”.", "schema": {"type": "string"}},
            {"name": "page_size", "in": "query", "schema": size},
            {"name": "ordering", "in": "query", "schema": {"type": "string", "enum": orderings, "default": view.ordering}},
        ]

    def _ordering_of(self, request: Request, view: Any) -> str:
        wanted = request.query_params.get("ordering", view.ordering)
        if wanted.removeprefix("-") not in view.ordering_fields:
            names = ", ".join(view.ordering_fields)
            raise ValidationError(
                {"ordering": f"Order by one of {names}; a minus before it turns the order round."}, "ordering"
            )
        return wanted

    def _size_of(self, request: Request) -> int:
        text = request.query_params.get("page_size", str(PAGE_SIZE))
        if not (text.isascii() and text.isdigit() and len(text) < 6 and 1 <= int(text) <= LARGEST_PAGE):
            raise ValidationError({"page_size": f"A page holds 1 to {LARGEST_PAGE} rows."}, "page_size")
        return int(text)

    def _next(self) -> str | None:
        if self._last is None:
            return None
        position = [self._ordering, str(getattr(self._last, self._ordering.lstrip("-"))), self._last.pk]
        cursor = base64.urlsafe_b64encode(json.dumps(position).encode()).decode().rstrip("=")
        return replace_query_param(self._url, "cursor", cursor)

    def _beyond(self, queryset: QuerySet, cursor: str, name: str, *, descending: bool) -> Q:
        """Return the condition for rows after the cursor's."""
        side = "lt" if descending else "gt"
        try:
            ordering, text, key = json.loads(base64.urlsafe_b64decode(cursor.encode("ascii") + b"=="))
            if type(text) is not str:
                raise ValueError
            value = queryset.model._meta.get_field(name).to_python(text)
            if ordering != self._ordering or type(key) is not int or "\0" in text:
                raise ValueError
            return Q(**{f"{name}__{side}": value}) | Q(**{name: value, f"id__{side}": key})
        except (ArithmeticError, ValueError, TypeError, ModelValidationError, RecursionError) as error:
            raise ValidationError(
                {"cursor": "This cursor was not given by “next” of this list in this order: begin anew without it."}, "cursor"
            ) from error
