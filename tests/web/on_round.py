"""Walking the round through its pages, with the house's clock set to the world's moment."""

import re
import uuid
from datetime import datetime
from types import SimpleNamespace
from typing import Any
from urllib.parse import urlencode

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from curehouse.curing.models import Reading, SampleBar
from curehouse.web import access
from tests.world import World


def set_clock(monkeypatch: pytest.MonkeyPatch, moment: datetime) -> None:
    """Let every visit happen at *moment*."""
    monkeypatch.setattr(access, "timezone", SimpleNamespace(now=lambda: moment))


def text_of(answer: HttpResponse) -> str:
    """Return a page's words without tags and stray white space."""
    bare = re.sub(r"<(script|style|svg).*?</\1>", " ", answer.content.decode(), flags=re.DOTALL)
    words = re.sub(r"<[^>]+>", " ", bare)
    return re.sub(r"\s+([.,])", r"\1", " ".join(words.split()).replace("&amp;", "&"))


def bar_url(bar: SampleBar, query: str = "") -> str:
    """Return the page a bar is weighed on."""
    return reverse("web:round_bar", args=[bar.pk]) + query


class Walker:
    """A signed-in person on the round."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.client = Client()
        self.client.force_login(world.owner)

    def start(self, query: str = "") -> HttpResponse:
        """Begin the round, or go on with it."""
        return self.client.get(reverse("web:round") + query, follow=True)

    def post(self, address: str, fields: dict[str, Any]) -> HttpResponse:
        """Send a form as a browser does."""
        form = "application/x-www-form-urlencoded"
        return self.client.post(address, urlencode(fields), content_type=form)

    def get(self, bar: SampleBar, query: str = "") -> HttpResponse:
        """Look at a bar's page."""
        return self.client.get(bar_url(bar, query))

    def type(self, bar: SampleBar, weight: str, *, query: str = "", **fields: Any) -> HttpResponse:
        """Type a weight on a bar's page, as the script sends it."""
        sent = {"client_id": str(uuid.uuid4()), "moment": self.world.now.isoformat(), "seen": "", "firmness": ""}
        sent |= {"scale": str(self.world.scale.pk), "dent_mm": "", "dent_tool": "", "weight": weight}
        return self.post(bar_url(bar, query), {**sent, **fields})

    def answer(self, name: str, reading: Reading, query: str = "?round=1", **fields: Any) -> HttpResponse:
        """Answer the question about a weighing."""
        sent = {"client_id": str(uuid.uuid4()), "form_key": str(uuid.uuid4())}
        return self.post(reverse(f"web:{name}", args=[reading.pk]) + query, {**sent, **fields})

    def readings(self, bar: SampleBar) -> list[Reading]:
        """Return what was weighed of a bar today, with where each weighing stands."""
        rows = Reading.objects.within(self.world.workshop).filter(bar=bar, received_at=self.world.now)
        return list(rows.with_standing().filter(moment__gte=self.world.days_ago(0.5)).order_by("pk"))
