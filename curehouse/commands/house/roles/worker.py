"""The worker: Celery with two threads; what it does is claimed in the database first."""

from curehouse.celery import app

THREADS = 2


def run(words: list[str], *, tie: str) -> None:  # it has no children to tie
    """Work until SIGTERM, then finish what is in hand."""
    # Celery's own command line would load a whole interactive shell into memory for this.
    worker = app.Worker(
        pool="threads",
        concurrency=THREADS,
        without_gossip=True,
        without_mingle=True,
        without_heartbeat=True,
        loglevel="INFO",
    )
    worker.start()
    raise SystemExit(worker.exitcode)
