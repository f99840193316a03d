"""The house calls nobody whose address a person typed: what opens connections is listed, and pages are watched."""

import ast
import socket
import uuid
from collections.abc import Iterator
from typing import Any

import pytest
from django.test import Client

from tests.architecture.addresses import Address, addresses
from tests.architecture.conftest import Houses
from tests.architecture.sources import PACKAGES, name_of, python_files, tree_of

# Whatever can open a connection, by the name it is imported under.
CALLERS = {
    *("socket", "ssl", "asyncio", "http.client", "urllib.request", "smtplib", "ftplib", "poplib", "imaplib", "telnetlib"),
    *("xmlrpc", "socketserver", "urllib3", "requests", "httpx", "aiohttp", "redis", "psycopg", "pycurl", "paramiko"),
    *("webbrowser", "multiprocessing.connection", "django.core.mail"),
}
# Who imports one, and whom it calls: nobody that is named at a page or through the API.
CALLS = {
    "curehouse/notices/channels/email.py": "the mail server, set up at the shell (`mail_setup`, EMAIL_URL)",
    "curehouse/notices/channels/faults.py": "nobody: it names the faults of the mail server",
    "curehouse/common/busy.py": "nobody: it names the faults of the database",
    "curehouse/common/full_disk.py": "nobody: it names the faults of the database",
    "curehouse/commands/management/commands/health.py": "the house itself, on this computer",
    "curehouse/commands/house/certificate.py": "nobody: it reads a certificate",
    "curehouse/commands/house/network.py": "nobody: it looks whether a port is free, and for this computer's addresses",
    "curehouse/commands/house/greeting.py": "the house itself, on this computer",
}
# Doors and what they call; children of the shell's commands are named in CALLS. A PDF is looked through by Python
# itself, apart from all else, from a module of the house: what was sent is read from its input and names nothing.
RUNS_PROGRAMS = ("curehouse/commands/", "curehouse/common/pdfs.py")
RUNS_DATA = {"eval", "exec", "os.system", "os.popen", "pickle.loads", "pickle.load", "marshal.loads", "yaml.load"}
# It takes up again what it laid aside itself, in a file of its own that ends with it.
ITS_OWN = {"curehouse/flows/bring_in/laid_aside.py": "pickle.loads"}
METADATA = "http://169.254.169.254/latest/meta-data/"
PAGES = addresses()


def callers_in(tree: ast.Module) -> set[str]:
    """Return what a module imports that can open a connection."""
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names = [one.name for one in node.names]
        elif isinstance(node, ast.ImportFrom):
            names = [node.module or "", *(f"{node.module}.{one.name}" for one in node.names)]
        else:
            continue
        found |= {caller for caller in CALLERS for name in names if name == caller or name.startswith(f"{caller}.")}
    return found


def test_who_can_call_out_is_listed_with_whom_they_call() -> None:
    assert {name_of(path) for path in python_files(*PACKAGES) if callers_in(tree_of(path))} == set(CALLS)


@pytest.mark.parametrize(
    "line", ["import requests", "from urllib import request", "from urllib.request import urlopen", "import http.client as h"]
)
def test_an_import_that_can_call_out_is_found(line: str) -> None:
    """The control."""
    assert callers_in(ast.parse(line))
    assert not callers_in(ast.parse("from urllib.parse import quote"))


def test_pages_and_the_api_start_no_program() -> None:
    for path in python_files(*PACKAGES):
        if name_of(path).startswith(RUNS_PROGRAMS):
            continue
        for node in ast.walk(tree_of(path)):
            names = [one.name for one in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            assert not {"subprocess", "pty", "ctypes", "multiprocessing"} & {name.partition(".")[0] for name in names}, path
            called = ast.unparse(node.func) if isinstance(node, ast.Call) else ""
            assert called not in RUNS_DATA or called == ITS_OWN.get(name_of(path)), path


class Calls:
    """The addresses that this process connected to or asked the name service for."""

    def __init__(self) -> None:
        self.made: list[Any] = []


@pytest.fixture
def calls(monkeypatch: pytest.MonkeyPatch) -> Iterator[Calls]:
    noted = Calls()

    class Watched(socket.socket):
        def connect(self, address: Any) -> None:
            noted.made.append(address)
            raise ConnectionRefusedError(address)

        def connect_ex(self, address: Any) -> int:
            noted.made.append(address)
            return 111

        def sendto(self, *sent: Any) -> int:
            noted.made.append(sent[-1])
            return 0

    def asked(host: Any, *rest: Any, **more: Any) -> list:
        noted.made.append(host)
        raise socket.gaierror(host)

    monkeypatch.setattr(socket, "socket", Watched)
    monkeypatch.setattr(socket, "getaddrinfo", asked)
    monkeypatch.setattr(socket, "gethostbyname", asked)
    return noted


def typed(client: Client, path: str) -> dict[str, str]:
    """Return a form of the page with an address in each of its fields."""
    page = client.get(path)
    form = (page.context or {}).get("form") if page.status_code == 200 else None
    return {form.add_prefix(name): METADATA for name in form.fields} if form is not None else {}


@pytest.mark.django_db
@pytest.mark.parametrize("address", PAGES, ids=lambda one: f"/{one.route}")
def test_no_address_that_is_typed_anywhere_is_called(address: Address, houses: Houses, calls: Calls) -> None:
    path = "/api/nowhere/" if address.name == "api:None" else address.filled(houses.ours)
    client = Client(
        raise_request_exception=False, headers={"Referer": METADATA, "X-Forwarded-For": METADATA, "User-Agent": METADATA}
    )
    client.force_login(houses.ours.owner)
    named = {
        name: METADATA for name in ("url", "address", "webhook", "callback", "email", "name", "note", "source", "host", "next")
    }
    sent = {**named, **typed(client, path), "form_key": str(uuid.uuid4())}
    for answer in (client.get(path, named), client.post(path, sent), client.post(path, named, content_type="application/json")):
        assert answer.status_code < 500
    assert calls.made == []


def test_a_call_out_is_noticed(calls: Calls) -> None:
    """The control: by name, by number, and without a connection."""
    with pytest.raises(OSError, match="elsewhere"):
        socket.create_connection(("elsewhere.example", 80), timeout=1)
    with pytest.raises(ConnectionRefusedError), socket.socket() as one:
        one.connect(("127.0.0.1", 9))
    with socket.socket(type=socket.SOCK_DGRAM) as one:
        one.sendto(b"x", ("127.0.0.1", 9))
    assert calls.made == ["elsewhere.example", ("127.0.0.1", 9), ("127.0.0.1", 9)]
