"""Filters of lists; a parameter nobody knows is refused instead of left unheard."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

import django_filters
from django import forms
from django.db.models import QuerySet
from django_filters.rest_framework import DjangoFilterBackend
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request

from api.fields import LARGEST_KEY, NO_NULL_CHARACTER, ClientKeyField, MomentField
from api.pagination import PARAMETERS


class _MomentFormField(forms.CharField):
    """A moment in a query string, held to the same rule as one in a body."""

    def clean(self, value: Any) -> datetime | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            return MomentField().run_validation(text)
        except serializers.ValidationError as error:
            raise forms.ValidationError(f"{error.detail[0]} Write the plus of an offset as %%2B.", code="moment") from error


class KeyFilter(django_filters.Filter):
    """Rows that point at the thing with this id."""

    field_class = forms.IntegerField

    def __init__(self, **kwargs: Any) -> None:
        words = dict.fromkeys(("invalid", "min_value", "max_value"), "Send the id, a whole number, as the house gave it.")
        super().__init__(min_value=1, max_value=LARGEST_KEY, error_messages=words, **kwargs)


class MomentFilter(django_filters.IsoDateTimeFilter):
    """Rows before or after a moment."""

    field_class = _MomentFormField

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(error_messages={"null_characters_not_allowed": NO_NULL_CHARACTER}, **kwargs)


@extend_schema_field({"type": "boolean"})
class FlagFilter(django_filters.TypedChoiceFilter):
    """``true`` or ``false``."""

    def __init__(self, **kwargs: Any) -> None:
        choices = [("true", "true"), ("false", "false")]
        words = {"invalid_choice": "Send true or false."}
        super().__init__(
            choices=choices, coerce=lambda value: value == "true" if value else value, error_messages=words, **kwargs
        )


class ChoiceFilter(django_filters.ChoiceFilter):
    """Rows with one of a few words."""

    def __init__(self, *, choices: Sequence[tuple[str, str]], **kwargs: Any) -> None:
        words = {"invalid_choice": f"Send one of: {', '.join(value for value, _ in choices)}."}
        super().__init__(choices=choices, error_messages=words, **kwargs)


class ClientKeyFilter(django_filters.UUIDFilter):
    """The row with an id made by its client."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(error_messages={"invalid": ClientKeyField.default_error_messages["invalid"]}, **kwargs)


class DayFilter(django_filters.DateFilter):
    """Rows before or after a day."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(error_messages={"invalid": "Send a day, such as 2026-03-10."}, **kwargs)


class TextFilter(django_filters.CharFilter):
    """Rows with a text."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(error_messages={"null_characters_not_allowed": NO_NULL_CHARACTER}, **kwargs)


class StrictFilters(DjangoFilterBackend):
    """Filter by the view's filter set, and by nothing else."""

    def filter_queryset(self, request: Request, queryset: QuerySet, view: Any) -> QuerySet:
        """Return the rows asked for."""
        chosen = self.get_filterset_class(view, queryset)
        known = [*(chosen.base_filters if chosen else ()), *PARAMETERS]
        strangers = [name for name in request.query_params if name not in known]
        if strangers:
            raise ValidationError(
                {strangers[0][:80]: f"This list knows no such parameter; it knows {', '.join(known)}."}, "unknown_parameter"
            )
        return super().filter_queryset(request, queryset, view)
