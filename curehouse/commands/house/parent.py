"""A child must not outlive the process that started it, even when that one is killed.

Linux tells the child itself (PR_SET_PDEATHSIG); elsewhere the child looks at its parent every
half second. Whoever kills the parent left nobody to be polite to, so both end in SIGKILL: every
piece of work is either written or done again.
"""

import ctypes
import os
import signal
import sys
import threading
import time

KERNEL = "kernel"
WATCH = "watch"
OWN_WAY = KERNEL if sys.platform == "linux" else WATCH
_PR_SET_PDEATHSIG = 1
_LOOK_EVERY_SECONDS = 0.5


def tie_to_parent(parent: int, way: str) -> None:
    """Let this process die with process *parent*, its direct parent.

    The kernel looks at the *thread* that started this process: it must live as long as the parent.
    """
    if way == KERNEL:
        libc = ctypes.CDLL(None, use_errno=True)
        if libc.prctl(_PR_SET_PDEATHSIG, signal.SIGKILL, 0, 0, 0) != 0:
            raise OSError(ctypes.get_errno(), "PR_SET_PDEATHSIG")
    else:
        threading.Thread(target=_watch, args=(parent,), name="parent-watch", daemon=True).start()
    # It may have died before the tie was made.
    if os.getppid() != parent:
        os.kill(os.getpid(), signal.SIGKILL)


def _watch(parent: int) -> None:
    while os.getppid() == parent:
        time.sleep(_LOOK_EVERY_SECONDS)
    os.kill(os.getpid(), signal.SIGKILL)
