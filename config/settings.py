"""Every setting in one readable file, from the environment; .env.example says what each is for."""

import logging
import os
from datetime import datetime, timedelta
from importlib.util import find_spec
from pathlib import Path

import environ
from django.core.exceptions import ImproperlyConfigured

from config import production
from config.folders import keep_private
from config.logs import logging_at

BASE_DIR = Path(__file__).resolve().parent.parent
env = environ.Env()
environ.Env.read_env(BASE_DIR / ".env")

# ---- which life this process leads -------------------------------------------------------------------------------
PROFILE = env.str("LEVARE_PROFILE", "development")
if PROFILE not in {"development", "demo", "test", "production"}:
    raise ImproperlyConfigured(
        f"LEVARE_PROFILE={PROFILE!r}: use development, demo, test or production."
    )
PRODUCTION = PROFILE == "production"
DEBUG = False
if PRODUCTION:
    production.check(os.environ)
    os.umask(0o077)  # what a school writes is for its own processes, wherever it lies
VAR_DIR = keep_private(Path(env.str("LEVARE_VAR", str(BASE_DIR / "var"))))

SECRET_KEY = env.str("SECRET_KEY", production.OPEN_SECRET_KEY)
# Base64 keys of 32 bytes, newest first: private remarks and the secrets of second factors are sealed with the first
# and read with any.
NOTE_KEYS = env.list("NOTE_KEYS", default=[production.OPEN_NOTE_KEY])

ALLOWED_HOSTS = env.list(
    "ALLOWED_HOSTS", default=[] if PRODUCTION else ["localhost", "127.0.0.1", "[::1]", "testserver"]
)
# How many proxies of the school's own stand in front: that many addresses of X-Forwarded-For, from the right, are believed.
TRUSTED_PROXIES = env.int("TRUSTED_PROXIES", 0)
BASE_URL = env.str("BASE_URL", "http://localhost:8000").rstrip("/")
CSRF_TRUSTED_ORIGINS = env.list("CSRF_TRUSTED_ORIGINS", default=[BASE_URL])

# ---- the school ---------------------------------------------------------------------------------------------------
SCHOOL_NAME = env.str("SCHOOL_NAME", "Rowanmere Online Harp School")
ORGANIZER_EMAIL = env.str("ORGANIZER_EMAIL", production.OPEN_ORGANIZER)
# Where answers of calendars are piped to receive_mail; empty where no mail server does that, and then none are asked for.
REPLY_ADDRESS = env.str("REPLY_ADDRESS", "")
if REPLY_ADDRESS and (
    REPLY_ADDRESS.count("{key}") != 1 or "{key}" not in REPLY_ADDRESS.partition("@")[0]
):
    raise ImproperlyConfigured(
        "REPLY_ADDRESS holds {key} once, before the @, such as lessons+{key}@school.example."
    )
# The name under which that mail server writes Authentication-Results (RFC 8601). Without it no
# answer cancels anything.
REPLY_AUTHSERV_ID = env.str("REPLY_AUTHSERV_ID", "")
CONSENT_WORDING = env.str("CONSENT_WORDING", "2026-11")
DEMO_START = (
    datetime.fromisoformat(env.str("DEMO_START", "2027-03-01T09:00:00+00:00"))
    if PROFILE == "demo"
    else None
)

# ---- applications -------------------------------------------------------------------------------------------------
INSTALLED_APPS = [
    "config.apps.OfficeConfig",
    "django.contrib.auth",
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
    "django_htmx",
    "django_structlog",
    "accounts",
    "bookings",
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
    "django_htmx.middleware.HtmxMiddleware",
    "accounts.devices.Devices",
    "bookings.pages.middleware.PageMiddleware",
]
ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"
APPEND_SLASH = True
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
                "bookings.pages.context.house",
            ],
            "builtins": ["bookings.pages.clocks"],
        },
    }
]
FORMS_URLFIELD_ASSUME_HTTPS = True

# ---- data ---------------------------------------------------------------------------------------------------------
DATABASES = {"default": env.db_url("DATABASE_URL", f"sqlite:///{VAR_DIR / 'levare.sqlite3'}")}
_db = DATABASES["default"]
if _db["ENGINE"].endswith("sqlite3"):
    # Every transaction is a writer: it takes the one lock at once and waits its turn, so none dies half-way.
    _db["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL;",
    }
    _db["TEST"] = {"NAME": str(VAR_DIR / "test.sqlite3")}
else:
    _db["CONN_MAX_AGE"] = 60
    _db["CONN_HEALTH_CHECKS"] = True
_db["ATOMIC_REQUESTS"] = False  # the write door opens the one transaction
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
AUTH_USER_MODEL = "accounts.User"
SILENCED_SYSTEM_CHECKS = [
    "auth.W004",  # an address is unique in any spelling: the constraint user_email_unique
    "security.W005",  # whether other names below the school's speak TLS is for the school to say
    "security.W021",  # and so is the preload list
]

REDIS_URL = env.str("REDIS_URL", "")
CACHES = {
    "default": {"BACKEND": "config.caches.SharedCache", "LOCATION": REDIS_URL}
    if REDIS_URL
    else {
        "BACKEND": "django.core.cache.backends.locmem.LocMemCache",
        "LOCATION": "levare",
        "OPTIONS": {
            "MAX_ENTRIES": 10_000
        },  # of Django's own 300, guesses at others push a count out
    }
}

# ---- time and language --------------------------------------------------------------------------------------------
USE_TZ = True
TIME_ZONE = "UTC"
# One language; the catalogue rewords what libraries say to people.
USE_I18N = True
LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English")]
LOCALE_PATHS = [BASE_DIR / "accounts" / "locale"]

# ---- what leaves --------------------------------------------------------------------------------------------------
_mail = env.email_url("EMAIL_URL", default=f"filemail:///{VAR_DIR / 'mail'}")
EMAIL_BACKEND = _mail["EMAIL_BACKEND"]
EMAIL_HOST, EMAIL_PORT = _mail.get("EMAIL_HOST") or "", _mail.get("EMAIL_PORT") or 25
EMAIL_HOST_USER, EMAIL_HOST_PASSWORD = (
    _mail.get("EMAIL_HOST_USER") or "",
    _mail.get("EMAIL_HOST_PASSWORD") or "",
)
EMAIL_USE_TLS, EMAIL_USE_SSL = _mail.get("EMAIL_USE_TLS", False), _mail.get("EMAIL_USE_SSL", False)
EMAIL_FILE_PATH = env.str("EMAIL_FILE_PATH", str(VAR_DIR / "mail"))
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = SERVER_EMAIL = f'"{SCHOOL_NAME}" <{ORGANIZER_EMAIL}>'
EMAIL_SUBJECT_PREFIX = ""

CELERY_BROKER_URL = REDIS_URL or "memory://"
CELERY_TASK_IGNORE_RESULT = True
CELERY_TASK_ACKS_LATE = True
CELERY_TIMEZONE = "UTC"
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
# Seconds after which a broker counts as away. A thread of its own waits for it, never a request.
CELERY_BROKER_TRANSPORT_OPTIONS = {"socket_connect_timeout": 2, "socket_timeout": 5}
CELERY_BEAT_SCHEDULE = {
    "drain the outbox": {"task": "bookings.tasks.drain_outbox", "schedule": 5.0},
    "enqueue what is due": {"task": "bookings.tasks.enqueue_due", "schedule": 60.0},
    "read busy calendars": {"task": "bookings.tasks.refresh_busy_calendars", "schedule": 60.0},
}
# With no broker the web process drains its own outbox in a thread; a worker, a test and a command do it themselves.
OUTBOX_THREAD = env.bool("OUTBOX_THREAD", default=not REDIS_URL and PROFILE != "test")

# ---- people -------------------------------------------------------------------------------------------------------
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("email", "name")},
    },
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 10},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
ACCOUNT_ADAPTER = "bookings.pages.account_emails.AccountEmails"
ACCOUNT_FORMS = {"reset_password": "bookings.pages.account_emails.NewPasswordForm"}
ACCOUNT_EMAIL_UNKNOWN_ACCOUNTS = False
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_USER_MODEL_EMAIL_FIELD = "email"
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*"]
ACCOUNT_EMAIL_VERIFICATION = "none"  # people come by invitation to their own address
# The library's own also notes the address in a table of its own, as one still to be verified;
# User.email is the only one.
ACCOUNT_PASSWORD_RESET_TOKEN_GENERATOR = "accounts.reset_links.LinkKeys"  # noqa: S105
ACCOUNT_PREVENT_ENUMERATION = True
ACCOUNT_SESSION_REMEMBER = True
ACCOUNT_LOGOUT_ON_GET = False
ACCOUNT_DEFAULT_HTTP_PROTOCOL = "https" if PRODUCTION else "http"
# accounts.guesses counts wrong passwords and codes instead: by account, by caller and by device, whatever the Host header.
ACCOUNT_RATE_LIMITS = {"login": None, "login_failed": None}
SIGN_IN_FAILURES = env.int("SIGN_IN_FAILURES", 10)
MFA_FORMS = {
    "authenticate": "accounts.code_forms.CodeForm",
    "reauthenticate": "accounts.code_forms.AgainCodeForm",
}
DEVICE_COOKIE_NAME = "__Host-device" if PRODUCTION else "device"
MFA_ALLOW_UNVERIFIED_EMAIL = True  # nobody verifies: people come by invitation to their own address
MFA_ADAPTER = "accounts.second_factor.SealedFactors"
# In production instructors and admins need a second factor: bookings.pages.middleware leads them to
# it.
SECOND_FACTOR_REQUIRED = env.bool("SECOND_FACTOR_REQUIRED", default=PRODUCTION)
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = "/"

# ---- HTTP ---------------------------------------------------------------------------------------------------------
REST_FRAMEWORK = {
    # How a call is authenticated, read and negotiated stands in bookings.api.views.ApiView.
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_SCHEMA_CLASS": "bookings.api.schema.ProblemSchema",
    "EXCEPTION_HANDLER": "bookings.api.problems.handle",
    "DEFAULT_THROTTLE_CLASSES": [
        "bookings.api.throttles.ScopedRate",
        "bookings.api.throttles.AnonRate",
        "bookings.api.throttles.UserRate",
    ],
    "DEFAULT_THROTTLE_RATES": {
        "user": env.str("THROTTLE_USER", "600/min"),
        "anon": env.str("THROTTLE_ANON", "60/min"),
        "busy-calendars": env.str("THROTTLE_BUSY_CALENDARS", "30/min"),
    },
    "NUM_PROXIES": TRUSTED_PROXIES,
    "UNAUTHENTICATED_USER": "django.contrib.auth.models.AnonymousUser",
    "TEST_REQUEST_DEFAULT_FORMAT": "json",
}
REST_KNOX = {
    "TOKEN_TTL": timedelta(days=30),
    "TOKEN_LIMIT_PER_USER": None,
    "AUTO_REFRESH": False,
    "AUTH_HEADER_PREFIX": "Bearer",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Levare",
    "DESCRIPTION": "Consultations, group meetings and the calendars that follow from them.",
    "VERSION": "1.0.0",
    "OAS_VERSION": "3.1.1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_PERMISSIONS": ["rest_framework.permissions.AllowAny"],
    "SCHEMA_PATH_PREFIX": r"/api/v1",
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    "REDOC_DIST": "SIDECAR",
    "COMPONENT_SPLIT_REQUEST": True,
    "COMPONENT_SPLIT_PATCH": False,  # a form says itself what may be left out
    "ENUM_NAME_OVERRIDES": {
        "BookingStanding": "bookings.domain.vocabulary.Standing",
        "FeedKind": ["meetings", "roster", "free-busy"],
        "LeftOutCode": ["own-clash", "consent-missing"],
        "MeetingStatus": "bookings.domain.vocabulary.MeetingStatus",
        "MoveRequestStanding": ["OPEN", "ACCEPTED", "REFUSED", "CLOSED"],
        "NoteStanding": ["DRAFT", "RELEASED"],
        "OfferingKind": [
            "consultation",
            "private-lesson",
            "group-meeting",
            "masterclass",
        ],
        "PlaceKind": ["player", "listener"],
        "RefusalCode": "bookings.api.problem_schemas.CODE_CHOICES",
        "Role": ["student", "guardian", "instructor", "admin"],
    },
}
DATA_UPLOAD_MAX_MEMORY_SIZE = 100_000  # bytes; a booking with its intake is far below

STATIC_URL = "/static/"
# Only production collects its static files; elsewhere they are served from where they lie.
STATIC_ROOT = env.str("STATIC_ROOT", str(VAR_DIR / "static")) if PRODUCTION else None
STATICFILES_DIRS = [BASE_DIR / "bookings" / "pages" / "static"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"
        if PRODUCTION
        else "django.contrib.staticfiles.storage.StaticFilesStorage"
    },
}
WHITENOISE_USE_FINDERS = not PRODUCTION
# Looked for when asked for: listing every file first would cost each start, and each client of a test, 60 ms.
WHITENOISE_AUTOREFRESH = not PRODUCTION

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'self'"],
        "img-src": ["'self'", "data:"],
        "object-src": ["'none'"],
        "base-uri": ["'none'"],
        "form-action": ["'self'"],
        "frame-ancestors": ["'none'"],
    }
}
X_FRAME_OPTIONS = "DENY"
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_HTTPONLY = True
if PRODUCTION:
    SECURE_SSL_REDIRECT = env.bool("SECURE_SSL_REDIRECT", True)
    SECURE_REDIRECT_EXEMPT = [r"^health/"]
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    SECURE_HSTS_SECONDS = env.int("HSTS_SECONDS", 31_536_000)
    # Other names below the school's are not ours to bind, and a preload list forgets slowly: both are asked for.
    SECURE_HSTS_INCLUDE_SUBDOMAINS = env.bool("HSTS_SUBDOMAINS", False)
    SECURE_HSTS_PRELOAD = env.bool("HSTS_PRELOAD", False)
    SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = True
    SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "__Host-session", "__Host-csrf"

# ---- logs ---------------------------------------------------------------------------------------------------------
DJANGO_STRUCTLOG_TRUST_UPSTREAM_REQUEST_ID = True  # config.request_id has looked at it
DJANGO_STRUCTLOG_CELERY_ENABLED = True  # a request's id travels with the tasks that follow from it
DJANGO_STRUCTLOG_STATUS_4XX_LOG_LEVEL = logging.INFO  # a refusal is an answer
LOG_LEVEL = env.str("LEVARE_LOG", "WARNING" if PROFILE in {"test", "demo"} else "INFO")
LOGGING = logging_at(LOG_LEVEL)

# ---- figures, an optional extra: requirements/metrics.txt ---------------------------------------------------------
METRICS_TOKEN = env.str("METRICS_TOKEN", "")
METRICS_ON = bool(METRICS_TOKEN) and find_spec("prometheus_client") is not None
if METRICS_ON:
    MIDDLEWARE.insert(0, "bookings.metrics.Measuring")
