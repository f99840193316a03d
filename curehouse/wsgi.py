"""The web server's way in."""

import gc
import os
from importlib import import_module

from django.conf import settings
from django.core.wsgi import get_wsgi_application

from curehouse.common.few_at_once import few_at_once

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "curehouse.settings")

application = few_at_once(get_wsgi_application())

# The pages are loaded now rather than by the first visitor; then all that was loaded for good is
# left out of garbage collection, which would walk it (some 70 ms) in the middle of a request.
import_module(settings.ROOT_URLCONF)
gc.collect()
gc.freeze()
