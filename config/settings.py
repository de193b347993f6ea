"""Every setting, from the environment; .env.example says what each is for."""

import logging
import os
from datetime import datetime
from importlib.util import find_spec
from pathlib import Path

import environ
from django.core.exceptions import ImproperlyConfigured

from config import api, content_security, passwords, production, retention, schedule
from config.databases import database
from config.folders import keep_private
from config.logs import logging_at

BASE_DIR = Path(__file__).resolve().parent.parent
env = environ.Env()
environ.Env.read_env(BASE_DIR / ".env")

# ---- which life this process leads ----
PROFILE = env.str("LEVARE_PROFILE", "development")
if PROFILE not in {"development", "demo", "test", "production"}:
    raise ImproperlyConfigured(
        f"LEVARE_PROFILE={PROFILE!r}: use development, demo, test or production."
    )
PRODUCTION = PROFILE == "production"
if PRODUCTION:
    production.check(os.environ)
    os.umask(0o077)  # files are for the school's own processes only
VAR_DIR = keep_private(Path(env.str("LEVARE_VAR", str(BASE_DIR / "var"))))

SECRET_KEY = env.str("SECRET_KEY", production.OPEN_SECRET_KEY)
NOTE_KEYS = env.list("NOTE_KEYS", default=[production.OPEN_NOTE_KEY])

ALLOWED_HOSTS = env.list(
    "ALLOWED_HOSTS", default=[] if PRODUCTION else ["localhost", "127.0.0.1", "[::1]", "testserver"]
)
TRUSTED_PROXIES = env.int("TRUSTED_PROXIES", 0)
BASE_URL = env.str("BASE_URL", "http://localhost:8000").rstrip("/")
CSRF_TRUSTED_ORIGINS = env.list("CSRF_TRUSTED_ORIGINS", default=[BASE_URL])

# ---- the school ----
SCHOOL_NAME = env.str("SCHOOL_NAME", "Rowanmere Online Harp School")
SCHOOL_IS_NAMED = bool(env.str("SCHOOL_NAME", ""))
ORGANIZER_EMAIL = env.str("ORGANIZER_EMAIL", production.OPEN_ORGANIZER)
REPLY_ADDRESS = env.str("REPLY_ADDRESS", "")
BOUNCE_ADDRESS = env.str("BOUNCE_ADDRESS", "")
for _name, _address in (("REPLY_ADDRESS", REPLY_ADDRESS), ("BOUNCE_ADDRESS", BOUNCE_ADDRESS)):
    _mailbox = _address.partition("@")[0]
    if _address and not _address.count("{key}") == _mailbox.count("{key}") == 1:
        raise ImproperlyConfigured(
            f"{_name} holds {{key}} once, before the @, such as lessons+{{key}}@school.example."
        )
REPLY_AUTHSERV_ID = env.str("REPLY_AUTHSERV_ID", "")
RETENTION_DAYS = retention.days(env)
CONSENT_WORDING = env.str("CONSENT_WORDING", "2026-11")
_demo_start = env.str("DEMO_START", "2027-03-01T09:00:00+00:00")
DEMO_START = datetime.fromisoformat(_demo_start) if PROFILE == "demo" else None

# ---- applications ----
INSTALLED_APPS = [
    "config.apps.OfficeConfig",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "timezone_field",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "rest_framework",
    "knox",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "csp",
    "django_structlog",
    "accounts",
    "bookings",
    "django.contrib.auth",  # after ours, whose command makes the first admin
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "config.request_id.RequestId",
    "config.request_log.RequestLog",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "config.body_size.BodySize",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "accounts.devices.Devices",
    "bookings.pages.middleware.PageMiddleware",
]
ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "bookings" / "pages" / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "bookings.pages.context_processors.school",
            ],
            "builtins": ["bookings.pages.templatetags.formatting"],
        },
    }
]
FORMS_URLFIELD_ASSUME_HTTPS = True

# ---- data ----
_database = env.db_url("DATABASE_URL", f"sqlite:///{VAR_DIR / 'levare.sqlite3'}")
DATABASES = {"default": database(_database, test_file=VAR_DIR / "test.sqlite3")}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
AUTH_USER_MODEL = "accounts.User"
SILENCED_SYSTEM_CHECKS = [
    "auth.W004",  # an address is unique in any spelling: the constraint user_email_unique
    "security.W005",  # the school decides about other names below its own
    "security.W021",  # and about the preload list
]

REDIS_URL = env.str("REDIS_URL", "")
if REDIS_URL:
    CACHES = {"default": {"BACKEND": "config.caches.SharedCache", "LOCATION": REDIS_URL}}
else:
    # With Django's own limit of 300, guesses at other accounts would push a count out.
    _memory = "django.core.cache.backends.locmem.LocMemCache"
    CACHES = {"default": {"BACKEND": _memory, "OPTIONS": {"MAX_ENTRIES": 10_000}}}

# ---- time and language ----
TIME_ZONE = "UTC"
USE_I18N = True  # in one language: the catalogue rewords what libraries say to people
LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English")]
LOCALE_PATHS = [BASE_DIR / "accounts" / "locale"]

# ---- what leaves ----
_mail = env.email_url("EMAIL_URL", default=f"filemail:///{VAR_DIR / 'mail'}")
EMAIL_BACKEND = _mail["EMAIL_BACKEND"]
EMAIL_HOST = _mail.get("EMAIL_HOST") or ""
EMAIL_PORT = _mail.get("EMAIL_PORT") or 25
EMAIL_HOST_USER = _mail.get("EMAIL_HOST_USER") or ""
EMAIL_HOST_PASSWORD = _mail.get("EMAIL_HOST_PASSWORD") or ""
EMAIL_USE_TLS = _mail.get("EMAIL_USE_TLS", False)
EMAIL_USE_SSL = _mail.get("EMAIL_USE_SSL", False)
EMAIL_FILE_PATH = env.str("EMAIL_FILE_PATH", str(VAR_DIR / "mail"))
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = SERVER_EMAIL = f'"{SCHOOL_NAME}" <{ORGANIZER_EMAIL}>'
EMAIL_SUBJECT_PREFIX = ""

CELERY_BROKER_URL = REDIS_URL or "memory://"
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
# Seconds after which a broker counts as away. Only a thread of its own waits for it, no request.
CELERY_BROKER_TRANSPORT_OPTIONS = {"socket_connect_timeout": 2, "socket_timeout": 5}
CELERY_BEAT_SCHEDULE = schedule.BEAT
CELERY_TASK_ROUTES = schedule.ROUTES
# Without a broker the web process sends in a thread. Workers, tests and commands send themselves.
OUTBOX_THREAD = env.bool("OUTBOX_THREAD", default=not REDIS_URL and PROFILE != "test")

# ---- people ----
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = passwords.VALIDATORS
ACCOUNT_ADAPTER = "bookings.pages.account_emails.AccountEmails"
ACCOUNT_FORMS = {"reset_password": "bookings.pages.account_emails.NewPasswordForm"}
ACCOUNT_EMAIL_UNKNOWN_ACCOUNTS = False
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*"]
ACCOUNT_EMAIL_VERIFICATION = "none"  # people come by invitation to their own address
# The library's own also records the address in its table as unverified; User.email is the only one.
ACCOUNT_PASSWORD_RESET_TOKEN_GENERATOR = "accounts.reset_links.LinkKeys"  # noqa: S105
ACCOUNT_SESSION_REMEMBER = True
ACCOUNT_DEFAULT_HTTP_PROTOCOL = "https" if PRODUCTION else "http"
# accounts.guesses counts wrong passwords and codes instead, by account, caller and device.
ACCOUNT_RATE_LIMITS = {"login": None, "login_failed": None}
SIGN_IN_FAILURES = env.int("SIGN_IN_FAILURES", 10)
MFA_FORMS = {
    "authenticate": "accounts.code_forms.CodeForm",
    "reauthenticate": "accounts.code_forms.AgainCodeForm",
}
DEVICE_COOKIE_NAME = "__Host-device" if PRODUCTION else "device"
MFA_ALLOW_UNVERIFIED_EMAIL = True  # as above
MFA_ADAPTER = "accounts.second_factor.SealedFactors"
# bookings.pages.middleware leads instructors and admins without a second factor to it.
SECOND_FACTOR_REQUIRED = env.bool("SECOND_FACTOR_REQUIRED", default=PRODUCTION)
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "/"

# ---- HTTP ----
REST_FRAMEWORK = api.rest_framework(
    user_rate=env.str("THROTTLE_USER", "600/min"),
    anonymous_rate=env.str("THROTTLE_ANON", "60/min"),
    busy_calendar_rate=env.str("THROTTLE_BUSY_CALENDARS", "30/min"),
    proxies=TRUSTED_PROXIES,
)
REST_KNOX = api.TOKENS
SPECTACULAR_SETTINGS = api.SCHEMA
DATA_UPLOAD_MAX_MEMORY_SIZE = 100_000  # bytes; a booking with its intake needs far less

STATIC_URL = "/static/"
STATIC_ROOT = env.str("STATIC_ROOT", str(VAR_DIR / "static")) if PRODUCTION else None
STATICFILES_DIRS = [BASE_DIR / "bookings" / "pages" / "static"]
_STATIC = "django.contrib.staticfiles.storage.StaticFilesStorage"
if PRODUCTION:
    _STATIC = "whitenoise.storage.CompressedManifestStaticFilesStorage"
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": _STATIC},
}
WHITENOISE_USE_FINDERS = not PRODUCTION
# Files are looked up when requested: listing all of them would add 60 ms to each start.
WHITENOISE_AUTOREFRESH = not PRODUCTION

CONTENT_SECURITY_POLICY = content_security.POLICY
# Django's defaults also forbid frames and foreign referrers, and keep cookies to this site.
CSRF_COOKIE_HTTPONLY = True
if PRODUCTION:
    SECURE_SSL_REDIRECT = env.bool("SECURE_SSL_REDIRECT", True)
    SECURE_REDIRECT_EXEMPT = [r"^health/"]
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    SECURE_HSTS_SECONDS = env.int("HSTS_SECONDS", 31_536_000)
    SECURE_HSTS_INCLUDE_SUBDOMAINS = env.bool("HSTS_SUBDOMAINS", False)
    SECURE_HSTS_PRELOAD = env.bool("HSTS_PRELOAD", False)
    SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = True
    SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "__Host-session", "__Host-csrf"

# ---- logs ----
DJANGO_STRUCTLOG_TRUST_UPSTREAM_REQUEST_ID = True  # config.request_id has checked it
DJANGO_STRUCTLOG_CELERY_ENABLED = True  # tasks carry the id of their request
DJANGO_STRUCTLOG_STATUS_4XX_LOG_LEVEL = logging.INFO  # a refusal is an answer
LOG_LEVEL = env.str("LEVARE_LOG", "WARNING" if PROFILE in {"test", "demo"} else "INFO")
LOGGING = logging_at(LOG_LEVEL)

# ---- figures, an optional extra: requirements/metrics.txt ----
METRICS_TOKEN = env.str("METRICS_TOKEN", "")
METRICS_ON = bool(METRICS_TOKEN) and find_spec("prometheus_client") is not None
if METRICS_ON:
    MIDDLEWARE.insert(0, "bookings.metrics.Measuring")
