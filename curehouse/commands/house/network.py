"""Where the house listens and by which addresses it is known."""

import errno
import ipaddress
import socket
from collections.abc import Mapping
from dataclasses import dataclass

import ifaddr

from curehouse.commands.house.options import ANY_ADDRESS
from curehouse.commands.house.refusal import Refused

THIS_COMPUTER = "127.0.0.1"
ALL_ADDRESSES = "0.0.0.0"  # noqa: S104  # asked for by --lan
_OWN_NAMES = ("localhost", "127.0.0.1", "[::1]")


@dataclass(frozen=True)
class Doors:
    """The addresses of one house."""

    listen: str
    port: int
    tls: bool
    lan: tuple[str, ...]

    @property
    def scheme(self) -> str:
        """``http`` or ``https``."""
        return "https" if self.tls else "http"

    @property
    def home(self) -> str:
        """The address on this computer, without a slash at its end."""
        return f"{self.scheme}://{THIS_COMPUTER}:{self.port}"

    @property
    def lan_urls(self) -> list[str]:
        """The addresses on the local network."""
        return [f"{self.scheme}://{address}:{self.port}" for address in self.lan]

    def environment(self, given: Mapping[str, str]) -> dict[str, str]:
        """Return the settings that let in these addresses and what *given* names besides."""
        hosts = [*_OWN_NAMES, *self.lan]
        origins = [f"{self.scheme}://{host}:{self.port}" for host in hosts]
        return {
            "ALLOWED_HOSTS": ",".join([*hosts, *_words(given.get("ALLOWED_HOSTS", ""))]),
            "CSRF_TRUSTED_ORIGINS": ",".join([*origins, *_words(given.get("CSRF_TRUSTED_ORIGINS", ""))]),
            "CUREHOUSE_TLS": "1" if self.tls else "0",
            # Links in mail lead to where a phone reaches the house, too.
            "PUBLIC_URL": given.get("PUBLIC_URL") or (*self.lan_urls, self.home)[0],
        }


def _words(text: str) -> list[str]:
    return [word.strip() for word in text.split(",") if word.strip()]


def lan_addresses() -> list[str]:
    """Return this computer's IPv4 addresses on its networks, without loopback and link-local ones."""
    found: list[str] = []
    for adapter in ifaddr.get_adapters():
        for entry in adapter.ips:
            if not isinstance(entry.ip, str):
                continue
            address = ipaddress.IPv4Address(entry.ip)
            if address.is_loopback or address.is_link_local or entry.ip in found:
                continue
            found.append(entry.ip)
    return found


def open_doors(*, port: int, lan: str | None, tls: bool) -> Doors:
    """Return where to listen for the options given.

    Raises
    ------
    Refused
        ``--lan`` without an address on any network, or with one that isn't this computer's.
    """
    if lan is None:
        return Doors(listen=THIS_COMPUTER, port=port, tls=tls, lan=())
    if lan == ANY_ADDRESS:
        addresses = lan_addresses()
        if not addresses:
            raise Refused(
                "--lan found no address of this computer on a local network; join one, or name the address: --lan ADDRESS."
            )
    else:
        addresses = [_own_address(lan)]
    return Doors(listen=ALL_ADDRESSES, port=port, tls=tls, lan=tuple(addresses))


def _own_address(text: str) -> str:
    try:
        address = str(ipaddress.IPv4Address(text))
    except ipaddress.AddressValueError as error:
        raise Refused(f"--lan {text} is no IPv4 address; write four numbers, such as 192.0.2.7.") from error
    with socket.socket() as trial:
        try:
            trial.bind((address, 0))
        except OSError as error:
            raise Refused(f"--lan {text} is no address of this computer; --lan alone finds those it has.") from error
    return address


def check_port_free(doors: Doors) -> None:
    """Raise Refused if the port can't be listened on."""
    with socket.socket() as trial:
        # Connections of a house that just ended linger; they don't stop a new one.
        trial.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            trial.bind((doors.listen, doors.port))
        except OSError as error:
            if error.errno == errno.EADDRINUSE:
                reason = "is taken by another program"
            else:
                reason = f"can't be listened on ({error.strerror})"
            raise Refused(f"port {doors.port} {reason}; choose another with --port.") from error
