"""Hosts, cookies and passwords."""

from curehouse.settings import env

# `manage.py start` sets these; the defaults let only this computer in.
ALLOWED_HOSTS = env.words("ALLOWED_HOSTS", "localhost,127.0.0.1,[::1]")
CSRF_TRUSTED_ORIGINS = env.words("CSRF_TRUSTED_ORIGINS")
TLS = env.flag("CUREHOUSE_TLS")
# Addresses or networks of proxies whose X-Forwarded-For is believed; nobody's is unless it stands here.
TRUSTED_PROXIES = env.networks("CUREHOUSE_TRUSTED_PROXIES")

SESSION_ENGINE = "curehouse.workshops.sessions"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_SECURE = TLS
CSRF_COOKIE_SECURE = TLS
CSRF_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_AGE = 60 * 60 * 24 * 60
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"

PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("email", "name")},
    },
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]

# Uploads go to a file, never into memory; the first handler stops what is too large.
FILE_UPLOAD_HANDLERS = [
    "curehouse.common.upload_quota.QuotaUploadHandler",
    "django.core.files.uploadhandler.TemporaryFileUploadHandler",
]
