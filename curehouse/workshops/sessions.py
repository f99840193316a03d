"""Django's sessions in a table of our own, so that a person can see and end theirs.

The row a session is loaded from says when it was seen last, so looking costs no query of its own;
it is written again once that is :data:`SEEN_STEP` ago.
"""

import hashlib
import logging
from datetime import datetime, timedelta
from typing import Any

from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore as DatabaseSessions
from django.db import OperationalError, transaction
from django.utils import timezone

from curehouse.common.visitors import NOWHERE, Origin
from curehouse.workshops.models import PersonSession, User

logger = logging.getLogger(__name__)

SEEN_STEP = timedelta(minutes=5)


class SessionStore(DatabaseSessions):
    """A session, and the row it was loaded from."""

    # Where the request comes from; the middleware says it.
    origin: Origin = NOWHERE
    row: PersonSession | None = None

    @classmethod
    def get_model_class(cls) -> type[PersonSession]:
        """Return the table sessions are kept in."""
        return PersonSession

    def _get_session_from_db(self) -> PersonSession | None:
        self.row = super()._get_session_from_db()
        return self.row

    def create_model_instance(self, data: dict[str, Any]) -> PersonSession:
        """Return the row to be written: whose session it is stands in its data."""
        row, at = super().create_model_instance(data), timezone.now()
        row.person_id = data.get(SESSION_KEY)
        earlier = self.row if self.row is not None and str(self.row.person_id) == str(row.person_id) else None
        row.begun_at = at if earlier is None else earlier.begun_at
        row.seen_at = at
        row.from_address, row.from_device = self.origin.address, self.origin.device
        return row

    def note_seen(self, at: datetime) -> None:
        """Write down that the session is in use, where that was not done lately."""
        if self.row is None or self.row.seen_at > at - SEEN_STEP:
            return
        try:
            PersonSession.objects.filter(pk=self.row.pk).update(
                seen_at=at, from_address=self.origin.address, from_device=self.origin.device
            )
        except OperationalError as error:
            # Being seen is no reason to refuse a page while the disk is full or the database busy.
            logger.warning("not noted that a session was seen: %s", type(error).__name__)


def keep_at_once(session: SessionStore) -> None:
    """Write a session down now and not with its answer, so that whatever ends its person's sessions finds it."""
    session.save()


def mark_of_session(key: str) -> str:
    """Return what a page calls a session by: the key itself would let whoever reads the page in."""
    return hashlib.sha256(key.encode()).hexdigest()[:20]


@transaction.atomic
def end_session(*, person: User, mark: str, at: datetime) -> PersonSession | None:
    """End one of a person's sessions at once; None where it ended before."""
    for row in PersonSession.objects.open_of(person, at):
        if mark_of_session(row.pk) == mark:
            row.delete()
            logger.info("session ended: user=%s", person.pk)
            return row
    return None


@transaction.atomic
def end_other_sessions(*, person: User, keep: str | None) -> int:
    """End all of a person's sessions but the one whose key is *keep*; return how many ended."""
    ended, _by_model = PersonSession.objects.filter(person=person).exclude(pk=keep or "").delete()
    logger.info("sessions ended: user=%s count=%s", person.pk, ended)
    return ended


@transaction.atomic
def forget_sessions(*, at: datetime) -> int:
    """Forget the sessions that ran out; return how many that were."""
    forgotten, _by_model = PersonSession.objects.filter(expire_date__lt=at).delete()
    return forgotten
