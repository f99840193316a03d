"""The web server: granian, whose main process holds the port and whose worker runs Django."""

import argparse
import os
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import Any

from granian.constants import HTTPModes, Interfaces, SSLProtocols
from granian.http import HTTP1Settings
from granian.server import Server

from curehouse.commands.house.parent import tie_to_parent

APPLICATION = "curehouse.wsgi"
# More than one address can hold (common/few_at_once.py); those that have nothing to do end.
BLOCKING_THREADS = 16
# Connections held at once by a process, idle ones too, of which a browser keeps six; the rest wait in the kernel's queue.
BACKPRESSURE = 512
# A connection says in this time what it wants (first bytes and idle ones too), so that nobody holds all of those by
# saying nothing. It holds for HTTP/1 alone: granian's own choice between 1 and 2 waits for first bytes without end, and
# its HTTP/2 for whatever comes next.
HEAD_WITHIN_MILLISECONDS = 5_000
DRAIN_SECONDS = 4


def run(words: list[str], *, tie: str) -> None:
    """Serve until SIGTERM, then finish the requests in hand."""
    parser = argparse.ArgumentParser(prog="web")
    parser.add_argument("--host", required=True)
    parser.add_argument("--port", type=int, required=True)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--cert", type=Path)
    parser.add_argument("--key", type=Path)
    options = parser.parse_args(words)
    server = Server(
        APPLICATION,
        address=options.host,
        port=options.port,
        interface=Interfaces.WSGI,
        http=HTTPModes.http1,
        workers=options.processes,
        blocking_threads=BLOCKING_THREADS,
        backpressure=BACKPRESSURE,
        http1_settings=HTTP1Settings(header_read_timeout=HEAD_WITHIN_MILLISECONDS),
        websockets=False,
        workers_kill_timeout=DRAIN_SECONDS,
        ssl_cert=options.cert,
        ssl_key=options.key,
        ssl_protocol_min=SSLProtocols.tls12,
    )
    server.serve(target_loader=partial(load_application, tie=tie, parent=os.getpid()), wrap_loader=False)


def load_application(*, tie: str, parent: int) -> Any:
    """Return the WSGI application; runs in the worker process, which must not outlive its main."""
    tie_to_parent(parent, tie)
    return import_module(APPLICATION).application
