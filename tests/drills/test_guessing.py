"""A thousand guesses at the door of a running house, from one address and from many; its owner comes in meanwhile."""

import http.client
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlencode

import pytest

from curehouse.workshops.services.brake import ACCOUNT, ADDRESS
from tests.browser.at_work import inside
from tests.house import RunningHouse
from tests.visitor import Person
from tests.world import PASSWORD

OWNER = "ottilie@fennelyard.example"
GUESSES = 1_000


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningHouse]:
    with RunningHouse(tmp_path_factory.mktemp("guessing") / "data") as running:
        inside(running, "with transaction.atomic():\n    World(now=now)\nprint(1)")
        yield running


class Guesser:
    """Sends guesses from an address of this computer's own; never keeps a cookie but the form's."""

    def __init__(self, house: RunningHouse, source: str) -> None:
        self._line = http.client.HTTPConnection("127.0.0.1", house.port, timeout=60, source_address=(source, 0))
        self._line.request("GET", "/sign-in/")
        page = self._line.getresponse()
        page.read()
        self._token = re.search(r"csrftoken=(\w+)", page.headers["Set-Cookie"])[1]

    def guess(self, email: str, password: str) -> int:
        body = urlencode({"csrfmiddlewaretoken": self._token, "email": email, "password": password})
        headers = {"Cookie": f"csrftoken={self._token}", "Content-Type": "application/x-www-form-urlencoded"}
        self._line.request("POST", "/sign-in/", body, headers)
        answer = self._line.getresponse()
        answer.read()
        return answer.status

    def close(self) -> None:
        self._line.close()


def test_a_thousand_guesses_stop_at_the_number_that_is_stated(house: RunningHouse) -> None:
    owner = Person(house.base_url)
    owner.sign_in(OWNER, PASSWORD)
    owner.post("/sign-out/", {})

    one = Guesser(house, "127.0.0.2")
    answers = Counter(one.guess(f"somebody{n}@fennelyard.example", f"guess-number-{n}") for n in range(GUESSES))
    one.close()
    assert answers == {200: ADDRESS.tries, 429: GUESSES - ADDRESS.tries}

    answers = Counter()
    for number in range(GUESSES // 10):
        many = Guesser(house, f"127.0.1.{number + 1}")
        answers.update(many.guess(OWNER, f"guess-number-{number}-{n}") for n in range(10))
        many.close()
    assert answers == {200: ACCOUNT.tries, 429: GUESSES - ACCOUNT.tries}

    elsewhere = Guesser(house, "127.0.0.3")
    assert elsewhere.guess(OWNER, PASSWORD) == 429, "the account is shut to whoever was not here before"
    owner.sign_in(OWNER, PASSWORD)
    assert "Today" in owner.get("/").text

    said = house.manage("let_in", OWNER, "--make-password")
    assert said.returncode == 0, said.stdout
    password = re.search(r"Password, shown this once: (\S+)", said.stdout)[1]
    assert "/sign-in/" in owner.get("/").url, "their sessions are over"
    elsewhere.close()  # the house may have hung up on a line that was silent for so long; the next guess opens it again
    assert elsewhere.guess(OWNER, PASSWORD) == 200
    assert elsewhere.guess(OWNER, password) == 302
    elsewhere.close()


def test_the_shell_names_who_there_is_and_refuses_where_no_house_is(house: RunningHouse, tmp_path: Path) -> None:
    stranger = house.manage("let_in", "wren@x.example", "--make-password")
    assert stranger.returncode != 0
    assert f"these do: {OWNER}" in stranger.stdout
