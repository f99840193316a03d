"""What `start` says on the terminal."""

import http.client
import io
import ssl
import sys

import segno

from curehouse.commands.house.network import THIS_COMPUTER, Doors

_PLAIN_HTTP = (
    "Plain HTTP: whoever is on this network can read what is sent, passwords too. Use it on a\n"
    "network of your own only, or give --cert FILE --key FILE for HTTPS."
)


def say(line: str) -> None:
    """Print *line* at once, wherever standard output leads."""
    try:
        sys.stdout.write(f"{line}\n")
        sys.stdout.flush()
    except BrokenPipeError:
        # Nobody reads any more; the house goes on.
        pass


def qr_lines(url: str) -> str:
    """Return *url* as a QR code made of characters."""
    drawn = io.StringIO()
    segno.make(url, micro=False).terminal(out=drawn, compact=True)
    return drawn.getvalue().rstrip("\n")


def greeting(doors: Doors, *, setup_key: str | None, sign_in: tuple[str, str] | None) -> list[str]:
    """Return the lines for a house that has just opened.

    *setup_key* is given while no workshop exists, *sign_in* (e-mail, password) with ``--demo``.
    """
    page = f"/set-up/?key={setup_key}" if setup_key else "/"
    lines = [f"Curehouse is open at {doors.home}/"]
    if sign_in:
        lines.append(f"Demo workshop, invented: sign in as {sign_in[0]} with the password {sign_in[1]}")
    if setup_key:
        lines.append(f"Nobody lives here yet: set up your workshop at {doors.home}{page}")
    for url in doors.lan_urls:
        lines += [f"On the local network: {url}{page}", qr_lines(url + page)]
    if doors.lan and not doors.tls:
        lines.append(_PLAIN_HTTP)
    lines.append("Ctrl-C ends it.")
    return lines


def answers(doors: Doors) -> bool:
    """Whether the house's web server answers on this computer."""
    if doors.tls:
        # Only asked whether it stands; whom the certificate names is for browsers to check.
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
        context.check_hostname = False
        context.verify_mode = ssl.CERT_NONE
        line: http.client.HTTPConnection = http.client.HTTPSConnection(THIS_COMPUTER, doors.port, timeout=2, context=context)
    else:
        line = http.client.HTTPConnection(THIS_COMPUTER, doors.port, timeout=2)
    try:
        line.request("GET", "/healthz")
        return line.getresponse().status == http.HTTPStatus.OK
    except (OSError, http.client.HTTPException):
        return False
    finally:
        line.close()


class Greeter:
    """Prints the greeting once, as soon as the house answers."""

    def __init__(self, doors: Doors, lines: list[str]) -> None:
        self._doors = doors
        self._lines = lines
        self._greeted = False

    def look(self) -> None:
        """Greet if it is time."""
        if not self._greeted and answers(self._doors):
            self._greeted = True
            for line in self._lines:
                say(line)
