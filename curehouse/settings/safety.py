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
# Where the house is reached by HTTPS, browsers are told to stay with it: for a month after each visit, so that
# a house that gives HTTPS up is out of reach no longer than that.
SECURE_HSTS_SECONDS = 60 * 60 * 24 * 30 if TLS else 0
if TLS and TRUSTED_PROXIES:
    # The proxy that was named says how it was reached itself.
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SILENCED_SYSTEM_CHECKS = [
    # The house speaks for the name it answers to, not for its subdomains, whose owner it may not be,
    "security.W005",
    # nor for the lists that browsers ship, which takes the owner of the whole domain.
    "security.W021",
    # Its one port speaks HTTPS or HTTP, never both; whoever stands before it as a proxy sends on from port 80.
    "security.W008",
]
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
