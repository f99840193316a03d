"""The house's settings for tests that run in pytest's own process.

The data folder is read when settings are imported, so it is moved away first: no test touches
``var/``, and none reaches a broker or a mail server. Tests of a running house start it as a
subprocess with its real settings (:mod:`tests.house`).
"""

import atexit
import os
import shutil
import tempfile

_folder = tempfile.mkdtemp(prefix="curehouse-tests-")
atexit.register(shutil.rmtree, _folder, ignore_errors=True)
os.environ["CUREHOUSE_DATA"] = _folder

from curehouse.settings import *  # noqa: E402, F403

DEBUG = False
# Lines go up to the root, where pytest listens.
LOGGING_CONFIG = None
STATIC_ROOT.mkdir()  # noqa: F405
ALLOWED_HOSTS = ["testserver", "localhost", "127.0.0.1"]
CSRF_TRUSTED_ORIGINS = []
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = False
EMAIL_URL = EMAIL_FROM = PUBLIC_URL = ""
CELERY_BROKER_URL = "memory://"
CELERY_BROKER_TRANSPORT = None
CELERY_BROKER_TRANSPORT_OPTIONS = {}
# Names of static files stay plain: nothing is collected before a test.
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
# Argon2 is slow on purpose, and every test signs somebody in.
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
# Whatever a test asks for is held to the trail of who did what.
MIDDLEWARE = ["tests.watch.WatchTheTrail", "tests.watch.WatchTheWayOut", *MIDDLEWARE]  # noqa: F405
