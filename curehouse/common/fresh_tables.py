"""Tables of an app made at once, for a house that begins anew.

Django renders all models that hang together again after each step of a migration, which makes hundreds
of steps a minute. Here the steps are taken on the state alone, and the models are rendered once.
"""

from collections.abc import Sequence
from typing import Any

from django.db.migrations.operations import CreateModel
from django.db.migrations.operations.base import Operation


class TablesAtOnce(Operation):
    """Make the tables of *models*, which may refer to each other in any order, with all that stands on them."""

    reversible = True

    def __init__(self, models: Sequence[CreateModel]) -> None:
        self.models = models

    def deconstruct(self) -> tuple[str, list[Any], dict[str, Any]]:
        return type(self).__name__, [self.models], {}

    def state_forwards(self, app_label: str, state: Any) -> None:
        unrendered(state)
        for one in self.models:
            one.state_forwards(app_label, state)

    def database_forwards(self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any) -> None:
        for one in self.models:
            model = to_state.apps.get_model(app_label, one.name)
            if self.allow_migrate_model(schema_editor.connection.alias, model):
                schema_editor.create_model(model)

    def database_backwards(self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any) -> None:
        for one in reversed(self.models):
            model = from_state.apps.get_model(app_label, one.name)
            if self.allow_migrate_model(schema_editor.connection.alias, model):
                schema_editor.delete_model(model)

    def describe(self) -> str:
        return f"Create the tables of {', '.join(one.name for one in self.models)}"


def unrendered(state: Any) -> None:
    """Let *state* forget its rendered models: they are rendered again, all at once, when somebody asks for them."""
    state.__dict__.pop("apps", None)
