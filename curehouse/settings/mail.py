"""Mail by the environment; without it, what `manage.py mail_setup` has kept is used."""

from django.core.exceptions import ImproperlyConfigured

from curehouse.common.errors import Invalid
from curehouse.notices.channels.server import mail_server
from curehouse.settings import env

EMAIL_URL = env.text("EMAIL_URL")
EMAIL_FROM = env.text("EMAIL_FROM")
# Where people reach this house, for links in mail; `manage.py start` sets it.
PUBLIC_URL = env.text("PUBLIC_URL")

if EMAIL_URL:
    try:
        mail_server(EMAIL_URL)
    except Invalid as error:
        raise ImproperlyConfigured(f"EMAIL_URL: {error.message}") from error
