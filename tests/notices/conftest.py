from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from curehouse.notices.models import Delivery, Notice
from curehouse.notices.services import tell
from tests.smtp_peer import SmtpPeer
from tests.world import World


@pytest.fixture(autouse=True)
def _no_mail_kept(settings: Any, tmp_path: Path) -> None:
    settings.DATA_FOLDER = tmp_path
    settings.PUBLIC_URL = "http://house.example:8000"


@pytest.fixture
def peer() -> Iterator[SmtpPeer]:
    with SmtpPeer() as running:
        yield running


@pytest.fixture
def tell_ready(world: World) -> Callable[..., Notice]:
    """Tell that batch 12 is ready; any part can be said differently."""

    def say(at: datetime | None = None, **changes: Any) -> Notice:
        words = {
            "key": "ready:batch:12:3",
            "kind": "ready",
            "about": "batch:12",
            "mark": "ready",
            "title": "Goat & oat 12 is ready",
            "body": "It lost 0.41 % in the last seven days. Take it out when you need the place.",
            "path": "/batches/12/",
        }
        notice = tell(workshop=world.workshop, at=at or world.now, **{**words, **changes})
        assert notice is not None
        return notice

    return say


@pytest.fixture
def delivery_of() -> Callable[[Notice], Delivery]:
    """Return the one delivery of a notice, fresh from the database."""

    def find(notice: Notice) -> Delivery:
        return Delivery.objects.within(notice.workshop).get(notice=notice)

    return find
