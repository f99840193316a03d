"""A constraint of the database, answered in words.

The database has the last say under concurrency; a service names the constraints it may run into
and the sentence each one means.
"""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager

from django.db import IntegrityError, models, transaction

from curehouse.common.errors import DomainError


def _broken_constraint(error: IntegrityError, model: type[models.Model]) -> str | None:
    """Return the name of the constraint *error* is about, on SQLite and PostgreSQL alike."""
    diagnosis = getattr(error.__cause__, "diag", None)
    if diagnosis is not None:
        return diagnosis.constraint_name
    text = str(error)
    for constraint in model._meta.constraints:
        if text.endswith((f": {constraint.name}", f": index '{constraint.name}'")):
            return constraint.name
        if isinstance(constraint, models.UniqueConstraint) and constraint.fields:
            columns = [model._meta.get_field(name).column for name in constraint.fields]
            if text.endswith(": " + ", ".join(f"{model._meta.db_table}.{column}" for column in columns)):
                return constraint.name
    return None


@contextmanager
def answered(model: type[models.Model], answers: Mapping[str, DomainError]) -> Iterator[None]:
    """Run the block in a savepoint; raise the answer for the constraint it breaks, if listed."""
    try:
        with transaction.atomic():
            yield
    except IntegrityError as error:
        name = _broken_constraint(error, model)
        if name in answers:
            raise answers[name] from error
        raise
