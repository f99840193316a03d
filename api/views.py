"""What every resource of the API has in common: its workshop, its moment, its rows."""

from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from functools import partial
from typing import Any, TypeVar

from django.core.exceptions import ImproperlyConfigured, RequestDataTooBig
from django.db.models import Model, QuerySet
from django.http import HttpRequest
from django.utils import timezone
from rest_framework import serializers, status
from rest_framework.generics import GenericAPIView
from rest_framework.mixins import ListModelMixin
from rest_framework.permissions import SAFE_METHODS
from rest_framework.request import Request
from rest_framework.response import Response

from api.deeds import noted
from api.fields import Worded
from api.once import HEADER, key_of, once
from curehouse.common.errors import NotHere
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Workshop
from curehouse.workshops.roles import Right

Row = TypeVar("Row", bound=Model)
_SENDING = ("post", "put", "patch", "delete")


class Rows(Worded, serializers.ListSerializer):
    """Several of a kind in a request's body."""

    default_error_messages = {
        "not_a_list": "Send a list, in square brackets.",
        "empty": "This list is empty: send at least one.",
        "max_length": "This list is too long: {max_length} are the most.",
    }


class Body(Worded, serializers.Serializer):
    """A request's body; a name nobody knows is refused instead of left unheard."""

    default_error_messages = {
        "invalid": "Send an object, in braces: each field by its name with its value.",
        "null": "Send an object instead of null.",
    }

    class Meta:
        list_serializer_class = Rows

    def to_internal_value(self, data: Any) -> dict[str, Any]:
        """Return the values; unknown names are errors beside the others."""
        if isinstance(data, dict):
            strangers = {
                str(name)[:80]: serializers.ErrorDetail("There is no such field here: check its name.", code="unknown_field")
                for name in data
                if name not in self.fields
            }
            if strangers:
                raise serializers.ValidationError(strangers)
        return super().to_internal_value(data)


class Change(Body):
    """What is to be changed of a thing: of its fields at least one."""

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Refuse a change of nothing: most likely the fields were forgotten."""
        if not attrs.keys() - {"lye_confirmed"}:
            raise serializers.ValidationError("Nothing is to be changed: send at least one field.", "nothing")
        return attrs


class WorkshopView(GenericAPIView):
    """A view of one workshop's rows.

    ``model`` is what it shows, ``rows`` how they are fetched; ``field_names`` says what a verb's
    field is called in this request, where the two differ; None where it is no field of it.
    """

    model: type[Model]
    # What the actor must be allowed to look, and to send; the second only where something can be sent.
    reads: Right
    writes: Right
    field_names: dict[str, str | None] = {}  # noqa: RUF012  (never changed; a view states its own)
    at: datetime

    @classmethod
    def as_view(cls, **initkwargs: Any) -> Callable[..., Any]:
        """Return the view for the URL table, unless it does not say who may use it."""
        sends = any(hasattr(cls, method) for method in _SENDING)
        missing = [name for name in ("reads", *(["writes"] if sends else [])) if not hasattr(cls, name)]
        if missing:
            raise ImproperlyConfigured(f"{cls.__name__} does not say who may use it: {', '.join(missing)}.")
        return super().as_view(**initkwargs)

    def initialize_request(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Request:
        """Take the request in; the body of one that is done once is kept, for a session's check reads it away."""
        if HEADER in request.headers and not request.content_type.startswith("multipart/"):
            with suppress(RequestDataTooBig):
                _ = request.body
        return super().initialize_request(request, *args, **kwargs)

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Let the request in, and note the one moment it happens at; what carries a key is done once."""
        super().initial(request, *args, **kwargs)
        self.at = timezone.now()
        self._note_what_is_done(request)
        if request.method == "POST" and hasattr(self, "post") and (key := key_of(request)) is not None:
            self.post = partial(self._post_once, key, self.post)

    def _note_what_is_done(self, request: Request) -> None:
        method = request.method.lower()
        if request.method not in SAFE_METHODS and method in self.http_method_names and hasattr(self, method):
            setattr(self, method, partial(noted, getattr(self, method), self.at))

    def _post_once(self, key: str, post: Callable[..., Response], request: Request, *args: Any, **kwargs: Any) -> Any:
        return once(request, self.actor, key, self.at, partial(post, request, *args, **kwargs))

    def tell(self, about: str) -> None:
        """Hear what the trail says of this request beside its deed."""
        self.request.about = about

    @property
    def actor(self) -> Actor:
        """Return who is at work."""
        return self.request.actor

    @property
    def workshop(self) -> Workshop:
        """Return the workshop at work."""
        return self.request.actor.workshop

    def rows(self) -> QuerySet:
        """Return the workshop's rows as this view shows them."""
        raise NotImplementedError

    def get_queryset(self) -> QuerySet:
        """Return the rows; the schema's generator, who works nowhere, gets none."""
        if getattr(self, "swagger_fake_view", False):
            return self.model._default_manager.none()
        return self.rows()

    def body(self, kind: type[serializers.Serializer]) -> dict[str, Any]:
        """Return what was sent, read as *kind*."""
        # Not by `is_valid`, which has a sentence of its own for null.
        return kind(context=self.get_serializer_context()).run_validation(self.request.data)

    def here(self, rows: QuerySet[Row], key: int, *, what: str, field: str | None = None) -> Row:
        """Return the row, or say that this workshop has no such *what* (named by *field* of the body)."""
        row = rows.filter(pk=key).first()
        if row is None:
            raise NotHere("not_here", f"There is no such {what} in this workshop.", field=field)
        return row

    def shown(self, key: int) -> Any:
        """Return one of this view's rows as it is shown."""
        return self.get_serializer(self.here(self.get_queryset(), key, what=self.what())).data

    def made(self, key: int) -> Response:
        """Return what was made at this list's address, with its own address."""
        address = {"Location": f"{self.request.path}{key}/"}
        return Response(self.shown(key), status=status.HTTP_201_CREATED, headers=address)

    def what(self) -> str:
        """Return what one row is called in a sentence."""
        return str(self.model._meta.verbose_name)


class Listing(ListModelMixin, WorkshopView):
    """A list of rows, in parts."""

    ordering_fields: tuple[str, ...] = ("id",)
    ordering = "id"

    def get(self, request: Request, *args: Any, **kwargs: Any) -> Response:
        """List, in the order asked for."""
        return self.list(request, *args, **kwargs)


class Detail(WorkshopView):
    """One row."""

    pagination_class = None
    filter_backends = ()

    def get(self, request: Request, pk: int) -> Response:
        """Show it."""
        return Response(self.shown(pk))
