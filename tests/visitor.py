"""Somebody at the door of a running house: a person with a browser's cookies, or a device with a token."""

import http.cookiejar
import json
import re
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

TIMEOUT_SECONDS = 60


@dataclass(frozen=True)
class Answer:
    """What came back: the status after redirects, the text, where it came from."""

    status: int
    text: str
    url: str

    def json(self) -> Any:
        """Return the text read as JSON."""
        return json.loads(self.text)


def _open(opener: urllib.request.OpenerDirector, request: urllib.request.Request) -> Answer:
    try:
        with opener.open(request, timeout=TIMEOUT_SECONDS) as answer:
            return Answer(answer.status, answer.read().decode(), answer.url)
    except urllib.error.HTTPError as refused:
        return Answer(refused.code, refused.read().decode(), refused.url)


class Person:
    """Signs in as a person does, and sends forms with what their page held."""

    def __init__(self, base_url: str) -> None:
        self.base_url = base_url
        self._cookies = http.cookiejar.CookieJar()
        self._opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(self._cookies))

    def get(self, path: str) -> Answer:
        """Ask for a page."""
        return _open(self._opener, urllib.request.Request(self.base_url + path))

    def post(self, path: str, values: Mapping[str, Any]) -> Answer:
        """Send a form; the CSRF token comes from the cookie that a page set."""
        token = next((cookie.value for cookie in self._cookies if cookie.name == "csrftoken"), "")
        body = urllib.parse.urlencode({"csrfmiddlewaretoken": token, **values}, doseq=True).encode()
        headers = {"Referer": self.base_url + path, "Origin": self.base_url}
        return _open(self._opener, urllib.request.Request(self.base_url + path, data=body, headers=headers))

    def sign_in(self, email: str, password: str) -> None:
        """Sign in, or fail with what the page said."""
        page = self.get("/sign-in/")
        fields = re.findall(r'<input[^>]*name="(email|username|password)"', page.text)
        name = "email" if "email" in fields else "username"
        answer = self.post("/sign-in/", {name: email, "password": password})
        assert "/sign-in/" not in answer.url, answer.text


class Device:
    """Speaks to the API with a token."""

    def __init__(self, base_url: str, secret: str) -> None:
        self.base_url = base_url
        self._headers = {"Authorization": f"Bearer {secret}", "Content-Type": "application/json"}
        self._opener = urllib.request.build_opener()

    def get(self, path: str) -> Answer:
        """Ask for a resource."""
        return _open(self._opener, urllib.request.Request(self.base_url + path, headers=self._headers))

    def post(self, path: str, content: Any) -> Answer:
        """Send JSON."""
        body = json.dumps(content).encode()
        return _open(self._opener, urllib.request.Request(self.base_url + path, data=body, headers=self._headers))
