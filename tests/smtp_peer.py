"""A mail server for tests: real SMTP on this computer, told what to answer.

with SmtpPeer() as peer:
    peer.answers["ann@example.org"] = "550 5.1.1 nobody here"
    ... send to peer.url ...
    assert peer.subjects() == ["Batch 12 is ready"]
"""

import asyncio
import email
import ssl
import threading
from dataclasses import dataclass
from email.message import EmailMessage
from email.policy import default
from types import TracebackType
from typing import Any, Self, cast

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, AuthResult, Envelope, Session

from tests.house import free_port


@dataclass(frozen=True)
class Received:
    """A message whose whole text arrived, whether or not the peer then said so."""

    sender: str
    recipients: list[str]
    message: EmailMessage

    @property
    def subject(self) -> str:
        return str(self.message["Subject"])

    @property
    def ident(self) -> str:
        return str(self.message["Message-ID"])

    @property
    def text(self) -> str:
        return str(self.message.get_content()).replace("\r\n", "\n")


class SmtpPeer:
    """Listens while used as a context manager; `stop` and `start` again keep the port."""

    def __init__(
        self,
        *,
        port: int | None = None,
        password: str | None = None,
        starttls: ssl.SSLContext | None = None,
    ) -> None:
        self.port = port or free_port()
        self.messages: list[Received] = []
        self.answers: dict[str, str] = {}
        self.after_data: dict[str, str] = {}
        self.slow: dict[str, float] = {}
        self.dropping: set[str] = set()
        self._password = password
        self._starttls = starttls
        self._controller: Controller | None = None
        self._lock = threading.Lock()

    @property
    def url(self) -> str:
        return f"smtp://127.0.0.1:{self.port}"

    def start(self) -> None:
        options: dict[str, Any] = {}
        if self._password is not None:
            options = {"authenticator": self._check_sign_in, "auth_required": True, "auth_require_tls": False}
        if self._starttls is not None:
            options |= {"tls_context": self._starttls, "require_starttls": True}
        self._controller = Controller(self, hostname="127.0.0.1", port=self.port, **options)
        self._controller.start()

    def stop(self) -> None:
        if self._controller is not None:
            self._controller.stop()
            self._controller = None

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.stop()

    def subjects(self) -> list[str]:
        """Return what arrived, by subject, in order of arrival."""
        with self._lock:
            return [one.subject for one in self.messages]

    def about(self, subject: str) -> list[Received]:
        """Return what arrived under a subject."""
        with self._lock:
            return [one for one in self.messages if one.subject == subject]

    async def handle_RCPT(  # noqa: N802  # aiosmtpd's name
        self, server: SMTP, session: Session, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        if address in self.answers:
            return self.answers[address]
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server: SMTP, session: Session, envelope: Envelope) -> str:  # noqa: N802
        message = cast("EmailMessage", email.message_from_bytes(cast("bytes", envelope.content), policy=default))
        received = Received(str(envelope.mail_from), list(envelope.rcpt_tos), message)
        if received.subject in self.after_data:
            return self.after_data[received.subject]
        with self._lock:
            self.messages.append(received)
        await asyncio.sleep(self.slow.get(received.subject, 0))
        if received.subject in self.dropping and server.transport is not None:
            cast("asyncio.Transport", server.transport).abort()
        return "250 OK"

    def _check_sign_in(self, server: SMTP, session: Session, envelope: Envelope, mechanism: str, data: Any) -> AuthResult:
        return AuthResult(success=data.password == str(self._password).encode(), handled=False)
