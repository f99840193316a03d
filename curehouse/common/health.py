"""Whether this process can do its work; asked by the supervisor, containers and people."""

import logging

from django.db import Error, connection
from django.http import HttpRequest, JsonResponse

logger = logging.getLogger(__name__)


def database_answers() -> bool:
    """Whether the database answers a question right now."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
            return bool(cursor.fetchone())
    except Error:
        logger.exception("the database does not answer")
        return False


def healthz(request: HttpRequest) -> JsonResponse:
    """Answer 200 if the database answers and 503 if not; says nothing else about the house."""
    well = database_answers()
    answer = JsonResponse(
        {"status": "ok" if well else "failing", "database": "ok" if well else "failing"},
        status=200 if well else 503,
    )
    answer["Cache-Control"] = "no-store"
    return answer
