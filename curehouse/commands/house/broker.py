"""Is the queue there? Asked once before the house opens; later outages are waited out."""

from celery import Celery
from kombu.exceptions import OperationalError

from curehouse.commands.house.refusal import Refused


def check_broker(app: Celery) -> None:
    """Raise Refused if the broker of *app* can't be reached."""
    with app.connection_for_write() as connection:
        try:
            connection.ensure_connection(max_retries=1, interval_start=0.2, timeout=3)
        except OperationalError as error:
            raise Refused(
                f"the queue {connection.as_uri()} doesn't answer ({error}); check REDIS_URL and start it, or unset"
                " REDIS_URL to use the one built in."
            ) from error
