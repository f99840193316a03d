"""A device at the API's door, and what tests expect of every refusal."""

import json
import uuid
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.http import HttpResponse
from django.test import Client

from curehouse.curing.models import SampleBar
from curehouse.workshops.services import give_token
from tests.world import World

V1 = "/api/v1/"
# The owner's own: a device is nobody's owner, whoever gave it its token.
OWNERS_ONLY = (V1 + "deeds/",)


@dataclass
class Device:
    """A phone or a scale's computer with a token of *world*."""

    world: World
    client: Client = field(init=False)

    def __post_init__(self) -> None:
        _token, secret = give_token(actor=self.world.actor, name="Bench tablet", reach="works", at=self.world.now)
        self.client = Client(headers={"Authorization": f"Bearer {secret}"})

    def as_person(self, path: str, body: Any) -> HttpResponse:
        """Send JSON as the owner signed in: what a person alone may judge."""
        person = Client()
        person.force_login(self.world.owner)
        return person.post(V1 + path, json.dumps(body), content_type="application/json")

    def client_for(self, path: str) -> Client:
        """Return who may ask for *path*: this device, or the owner signed in where no device may."""
        if not path.startswith(OWNERS_ONLY):
            return self.client
        owner = Client()
        owner.force_login(self.world.owner)
        return owner

    def get(self, path: str, **query: Any) -> HttpResponse:
        """Ask for something under /api/v1/."""
        return self.client.get(V1 + path, query)

    def post(self, path: str, body: Any = None) -> HttpResponse:
        """Send JSON."""
        return self.client.post(V1 + path, json.dumps({} if body is None else body), content_type="application/json")

    def patch(self, path: str, body: Any) -> HttpResponse:
        """Send a change."""
        return self.client.patch(V1 + path, json.dumps(body), content_type="application/json")

    def rows(self, path: str, **query: Any) -> list[dict[str, Any]]:
        """Return the rows of a list's first page."""
        answer = self.get(path, **query)
        assert answer.status_code == 200, answer.content
        return answer.json()["results"]


def problem(answer: HttpResponse, status: int, code: str | None = None, field: str | None = None) -> dict[str, Any]:
    """Check that *answer* is a problem of RFC 9457 with this status (code, field); return it."""
    assert answer.status_code == status, answer.content
    assert answer["Content-Type"] == "application/problem+json"
    body = answer.json()
    assert body["status"] == status
    assert {"type", "title", "detail", "code"} <= set(body)
    assert body["detail"].strip(), body
    if code is not None:
        assert body["code"] == code, body
    if field is not None:
        assert body.get("field") == field, body
    return body


def reading(bar: SampleBar, weight_g: Any, moment: datetime, **changes: Any) -> dict[str, Any]:
    """Return a weighing as a device sends it."""
    sent = {"client_id": str(uuid.uuid4()), "bar": bar.pk, "moment": moment.isoformat(), "weight_g": weight_g}
    return sent | changes
