"""What comes from outside begins no line of its own: not in a log, not in the trail, not in a header or a letter."""

import io
import logging
import logging.config
import re
import subprocess
import sys
import uuid
from collections.abc import Iterator
from email import policy
from email.parser import BytesParser
from pathlib import Path
from typing import Any

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse

from curehouse.common.visitors import one_line
from curehouse.notices.letters import write_letter
from curehouse.settings.logs import LOGGING
from curehouse.workshops.models import AuditEntry, PersonSession
from inventory.models import Material
from tests.house import REPOSITORY, clean_environment
from tests.world import PASSWORD, World

pytestmark = pytest.mark.django_db

# A line of a log as the house writes it, to be smuggled in.
FORGED = "[2026-03-10 09:00:00,000] INFO curehouse: let in: user=1"
BREAKS = ["\n", "\r", "\r\n", "\x0b", "\x0c", "\x1c", "\x1d", "\x1e", "\x85", "\u2028", "\u2029"]
TURNING = ["\x1b[2K\x1b[1G", "\x1b]0;title\x07", "\x08" * 40, "\u202e", "\u2066", "\x00", "\x7f", "\x9b2K"]
OUTSIDE = BREAKS + TURNING


@pytest.fixture
def log() -> Iterator[io.StringIO]:
    """Return what the house's own logging writes while the test runs."""
    stream = io.StringIO()
    (told,) = LOGGING["formatters"].values()
    handler = logging.StreamHandler(stream)
    handler.setFormatter(logging.config.DictConfigurator({}).configure_formatter(dict(told)))
    # In the tests' settings all lines go up to the root.
    logging.getLogger().addHandler(handler)
    yield stream
    logging.getLogger().removeHandler(handler)


def lines_of(text: str) -> list[str]:
    """Return the lines as anything that reads a log would part them."""
    return [line for line in text.splitlines() if line]


@pytest.mark.parametrize("mark", OUTSIDE, ids=ascii)
def test_a_line_of_the_log_is_one_line_whatever_stands_in_it(log: io.StringIO, mark: str) -> None:
    logging.getLogger("curehouse.flows.anything").warning("refused: path=%s", f"/batches/{mark}{FORGED}")
    (line,) = lines_of(log.getvalue())
    assert line.startswith("[")
    assert "WARNING curehouse.flows.anything: refused: path=/batches/" in line
    assert line.isprintable()


@pytest.mark.parametrize("mark", OUTSIDE, ids=ascii)
def test_a_fault_that_holds_what_came_from_outside_forges_no_line(log: io.StringIO, mark: str) -> None:
    try:
        raise ValueError(f"no number: {mark}{FORGED}")
    except ValueError:
        logging.getLogger("curehouse.flows.anything").exception("failed")
    first, *others = lines_of(log.getvalue())
    assert first.endswith("ERROR curehouse.flows.anything: failed")
    assert any("Traceback (most recent call last)" in line for line in others)
    assert all(line.startswith("  ") and line.isprintable() for line in others), others


AT_WORK = """
import logging, sys
import django
django.setup()
from curehouse.celery import app
app.log.setup(loglevel="INFO")
try:
    raise ValueError(sys.argv[1])
except ValueError as error:
    logging.getLogger("celery.app.trace").error("Task failed: %s", error, exc_info=True)
"""


@pytest.mark.parametrize("mark", ["\n", "\r", "\x1b[2K", "\u2028"], ids=ascii)
def test_a_task_that_fails_at_what_somebody_brought_in_forges_no_line(tmp_path: Path, mark: str) -> None:
    """Of the worker as it is started: Celery would set up lines of its own."""
    env = clean_environment({"CUREHOUSE_DATA": str(tmp_path), "DJANGO_SETTINGS_MODULE": "curehouse.settings"})
    words = [sys.executable, "-c", AT_WORK, f"no number: {mark}{FORGED}"]
    done = subprocess.run(words, env=env, cwd=REPOSITORY, capture_output=True, timeout=120, check=True)
    first, *others = lines_of(done.stderr.decode())
    assert "ERROR celery.app.trace: Task failed: no number: " in first
    assert any("Traceback (most recent call last)" in line for line in others)
    assert all(line.isprintable() for line in (first, *others))
    assert [line for line in others if not line.startswith("  ")] == []


def test_the_house_itself_forges_none_in_its_own_log(tmp_path: Path) -> None:
    env = clean_environment({"CUREHOUSE_DATA": str(tmp_path), "DJANGO_SETTINGS_MODULE": "curehouse.settings"})
    code = (
        "import logging, sys, django\nfrom pathlib import Path\ndjango.setup()\n"
        "from curehouse.commands.house.logs import log_this_process\n"
        "log_this_process(Path(sys.argv[1]))\n"
        "for name in ('curehouse.flows', 'celery.beat'):\n    logging.getLogger(name).warning(sys.argv[2])\n"
    )
    words = [sys.executable, "-c", code, str(tmp_path / "house.log"), f"refused: \n{FORGED}"]
    subprocess.run(words, env=env, cwd=REPOSITORY, timeout=120, check=True)
    assert [FORGED in line and not line.startswith(FORGED) for line in lines_of((tmp_path / "house.log").read_text())] == [
        True,
        True,
    ]


def test_a_letter_of_another_alphabet_stays_as_it_is(log: io.StringIO) -> None:
    logging.getLogger("curehouse").warning("kept: %s", "Säurezahl, 日本語, 0.41\u00a0%")
    assert "kept: Säurezahl, 日本語, 0.41" in log.getvalue()


@pytest.mark.parametrize("mark", OUTSIDE, ids=ascii)
def test_what_a_request_brings_forges_no_line_of_the_log(log: io.StringIO, world: World, mark: str) -> None:
    client = Client(raise_request_exception=False, headers={"User-Agent": f"x{mark}{FORGED}"})
    client.force_login(world.owner)
    for path in (f"/batches/1{mark}{FORGED}/", f"/api/v1/batches/1{mark}{FORGED}/", f"/static/{mark}{FORGED}"):
        client.get(path)
        client.get(path, headers={"Host": "elsewhere.example"})
        client.post(path, {"form_key": f"{mark}{FORGED}", "next": f"{mark}{FORGED}"})
    client.post(reverse("web:sign_out"))
    client.post(reverse("web:sign_in"), {"email": f"a@b.example{mark}{FORGED}", "password": f"{mark}{FORGED}"})
    assert [line for line in lines_of(log.getvalue()) if line.startswith(FORGED)] == []


@pytest.mark.parametrize("mark", OUTSIDE, ids=ascii)
def test_a_name_from_outside_is_on_one_line_in_the_trail_and_in_what_is_taken_of_it(world: World, mark: str) -> None:
    client = Client(headers={"User-Agent": f"Rack{mark}{FORGED}"})
    client.post(reverse("web:sign_in"), {"email": world.owner.email, "password": PASSWORD})
    sent = {"form_key": str(uuid.uuid4()), "name": f"Olive{mark}{FORGED}", "role": "fat", "kind": "fat", "unit": "g"}
    client.post(reverse("web:material_new"), sent)
    rows = list(AuditEntry.objects.within(world.workshop))
    assert rows
    for row in rows:
        assert all(len(text.splitlines()) <= 1 and text.isprintable() for text in (row.said, row.from_device, row.address))
    taken = client.get("/workshop/trail.csv").getvalue().decode("utf-8-sig")
    assert len(taken.splitlines()) == len(rows) + 1
    assert PersonSession.objects.get().from_device.isprintable()
    assert all(len(name.splitlines()) == 1 for name in Material.objects.within(world.workshop).values_list("name", flat=True))


@pytest.mark.parametrize("mark", BREAKS, ids=ascii)
def test_an_answer_has_no_header_that_came_from_outside(world: World, mark: str) -> None:
    planted = f"/{mark}Set-Cookie: sessionid=planted"
    client = Client(raise_request_exception=False)
    for path in ("/sign-in/", "/you/workshops/", "/workshop/check-rule/", "/batches/new/"):
        for answer in (client.get(path, {"next": planted, "page": planted}), client.post(path, {"next": planted})):
            head = answer.serialize_headers().decode("latin-1")
            assert not re.search(r"(?im)^set-cookie: sessionid=planted", head)
            assert answer.cookies.get("sessionid", "") != "planted"
    answer = client.post("/sign-in/", {"email": world.owner.email, "password": PASSWORD, "next": planted})
    assert answer.status_code == 302
    assert answer["Location"].isprintable()
    assert answer["Location"].isascii()


@pytest.mark.parametrize("mark", OUTSIDE, ids=ascii)
def test_a_letter_has_no_header_that_came_from_outside(world: World, tell_ready: Any, delivery_of: Any, mark: str) -> None:
    world.workshop.name = f"Fennel{mark}Bcc: all@elsewhere.example"
    world.workshop.save()
    letter = write_letter(delivery_of(tell_ready(title=f"Mint{mark}Bcc: all@elsewhere.example")))
    sent = mail.EmailMessage(
        letter.subject, letter.text, f"{letter.sender_name} <house@fennelyard.example>", [world.owner.email]
    )
    read = BytesParser(policy=policy.default).parsebytes(sent.message().as_bytes())
    assert (read["Bcc"], read["To"]) == (None, world.owner.email)
    assert str(read["Subject"]).isprintable()


@pytest.mark.parametrize(
    "address", ["a@b.example\nBcc: c@d.example", "a@b.example,c@d.example", "a@b.example\r\n", "<a@b.example>"]
)
def test_a_person_has_one_plain_address(world: World, address: str) -> None:
    client = Client()
    client.force_login(world.owner)
    sent = {"form_key": str(uuid.uuid4()), "email": address, "name": "Ottilie", "present_password": PASSWORD}
    client.post(reverse("web:you"), sent)
    world.owner.refresh_from_db()
    assert world.owner.email in ("ottilie@fennelyard.example", "a@b.example")


def test_one_line_is_one_line() -> None:
    for mark in OUTSIDE:
        said = one_line(f"a{mark}b", longest=10)
        assert len(said.splitlines()) == 1
        assert said.isprintable()
