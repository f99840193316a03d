"""Reading a page as a person does."""

import html
import uuid
from typing import Any

from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from tests.web.on_round import text_of


def words_of(answer: HttpResponse) -> str:
    """Return a page's words, its entities resolved."""
    return html.unescape(text_of(answer))


def send(client: Client, page: str, /, *args: int, key: str = "", **fields: Any) -> HttpResponse:
    """Send a form of *page*, with a form key of its own unless one is given."""
    return client.post(reverse(f"web:{page}", args=args), {"form_key": key or str(uuid.uuid4()), **fields})
