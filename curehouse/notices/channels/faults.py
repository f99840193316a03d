"""What went wrong with mail, in words, with the remedy."""

import smtplib
import socket
import ssl

from curehouse.notices.channels.outcome import End, Outcome
from curehouse.notices.channels.server import MailServer, Security

_LONGEST_ANSWER = 120


def explain(error: OSError, server: MailServer) -> str:
    """Return what *error*, met before anything was sent, means and what to do."""
    where = f"{server.host}, port {server.port}"
    # smtplib says "disconnected" of a server that only kept silent.
    if isinstance(error.__context__, TimeoutError):
        error = error.__context__
    for kind, words in (
        (socket.gaierror, f"The mail server {server.host} is not known: check its name and the connection to the internet."),
        (ConnectionRefusedError, f"Nothing answers at {where}: check the port, and that the server runs."),
        (smtplib.SMTPAuthenticationError, "The mail server refused name and password: check both (some want an app password)."),
        (ssl.SSLCertVerificationError, f"The certificate of {server.host} is not trusted: use the name it is made out to."),
        (ssl.SSLError, f"{where} does not speak TLS from the start: {_other_way(server)}."),
        (smtplib.SMTPNotSupportedError, f"{where} does not offer what was asked for (TLS or sign-in): {_other_way(server)}."),
        (TimeoutError, f"{where} did not answer in time: check host and port, or try later."),
    ):
        if isinstance(error, kind):
            return words
    return f"The connection to {where} broke off: try later, or check port and TLS ({type(error).__name__})."


def refusal(what: str, code: int, answer: bytes) -> Outcome:
    """Return the outcome of a "no" from the server: 4xx passes, 5xx stays.

    A sender that is refused is the set-up's fault, which can be mended meanwhile: tried again.
    """
    words = " ".join(answer.decode("utf-8", "replace").split())[:_LONGEST_ANSWER]
    lasting = code >= 500 and what != "the sender"
    return Outcome(End.REFUSED if lasting else End.TRY_AGAIN, f"The mail server refused {what}: {code} {words}")


def _other_way(server: MailServer) -> str:
    if server.security is Security.STARTTLS:
        return "try smtp+ssl:// and port 465, or smtp:// without TLS on a network of your own"
    return "try smtp+tls:// and port 587"
