"""Django's settings. What one workshop chooses for itself is a column, not a setting."""

from django.utils.functional import SimpleLazyObject

from curehouse.settings import env
from curehouse.settings.background import *  # noqa: F403
from curehouse.settings.database import databases
from curehouse.settings.logs import LOGGING  # noqa: F401
from curehouse.settings.mail import *  # noqa: F403
from curehouse.settings.page_policy import *  # noqa: F403
from curehouse.settings.paths import DATA_DIR, REPOSITORY, given_secret, secret_key
from curehouse.settings.rest import *  # noqa: F403
from curehouse.settings.safety import *  # noqa: F403

BASE_DIR = REPOSITORY
DATA_FOLDER = DATA_DIR
# Made when it is first used: a command that is refused leaves nothing in the data folder.
given_secret()
SECRET_KEY = SimpleLazyObject(secret_key)
DEBUG = env.flag("DEBUG")

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django_htmx",
    "rest_framework",
    "django_filters",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "curehouse.common",
    "curehouse.workshops",
    "inventory",
    "curehouse.notices",
    "curehouse.intake",
    "curehouse.making",
    "curehouse.curing",
    "curehouse.selling",
    "curehouse.web",
    "curehouse.jobs",
    "curehouse.commands",
    "api",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    # Outside of what refuses a request, so that refusals say it too.
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "csp.middleware.CSPMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "curehouse.common.guarded_answers.GuardedAnswersMiddleware",
    "curehouse.web.sessions.PersonSessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "curehouse.web.errors.DomainErrorMiddleware",
]

ROOT_URLCONF = "curehouse.urls"
WSGI_APPLICATION = "curehouse.wsgi.application"
DATABASES = databases()
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
AUTH_USER_MODEL = "workshops.User"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "builtins": ["curehouse.web.templatetags.cautions", "curehouse.web.templatetags.rights"],
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "curehouse.web.context.frame",
            ],
        },
    },
]

LANGUAGE_CODE = "en"
USE_I18N = False
USE_TZ = True
TIME_ZONE = "UTC"

STATIC_URL = "/static/"
STATIC_ROOT = DATA_DIR / "static"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "curehouse.common.static_files.HashedStaticFiles"},
}
LOGIN_URL = "web:sign_in"
LOGIN_REDIRECT_URL = "web:today"
