"""One settings file. Every value comes from the environment; embedded defaults run a shop on one machine.

A variable that starts with SHOPWARRANTY_ and is not known stops the start: a typo must not silently mean
"default".
"""

import importlib.util
import os
from datetime import timedelta
from pathlib import Path

import environ
from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured

BASE_DIR = Path(__file__).resolve().parent.parent
# Many small matrix products: a second thread only gets in the way, of this worker and of the others.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
PREFIX = "SHOPWARRANTY_"
KNOWN = {
    PREFIX + name
    for name in (
        "DATA_DIR DEBUG SECRET_KEY HOSTS PUBLIC_URL HTTPS HSTS_SECONDS PROXY MEDIA_DIR STATIC_DIR WORKERS"
        " TICK_SECONDS MAIL_URL MAIL_FROM LOG_LEVEL ADMIN_PATH MAX_UPLOAD_MB MAX_PHOTO_MEGAPIXELS"
        " SIGNING_SEAL TIMESTAMP_URL"
        " BACKUP_DIR BACKUP_KEEP BACKUP_PASS_PHRASE_FILE"
        " TEXT_HOOK_URL TEXT_HOOK_SECRET TEXT_HOOK_HOSTS BOUNCE_SECRET"
        " PUBLIC_READ_A_MINUTE PUBLIC_SENT_A_MINUTE ROW_SECURITY"
        " OLD_SECRET_KEYS S3_BUCKET S3_ENDPOINT S3_REGION S3_FOLDER S3_ACCESS_KEY S3_SECRET_KEY QUEUE_URL"
    ).split()
}
_unknown = sorted(name for name in os.environ if name.startswith(PREFIX) and name not in KNOWN)
if _unknown:
    raise ImproperlyConfigured(f"Unknown settings: {', '.join(_unknown)}. Known: {', '.join(sorted(KNOWN))}.")

env = environ.Env()


def has_package(module: str, setting: str) -> None:
    if importlib.util.find_spec(module) is None:
        line = ".venv/bin/python -m pip install --no-deps --require-hashes -r requirements-extras.lock"
        raise ImproperlyConfigured(f"{PREFIX}{setting} needs a package that is not installed:\n{line}")


DATA_DIR = Path(env.str(PREFIX + "DATA_DIR", default=str(BASE_DIR / "var")))
DEBUG = env.bool(PREFIX + "DEBUG", default=False)
HTTPS = env.bool(PREFIX + "HTTPS", default=False)


def secret_key() -> str:
    """From the environment, else from the file that the first set-up wrote beside the database."""
    if key := str(env.str(PREFIX + "SECRET_KEY", default="")):
        return key
    path = DATA_DIR / "secret_key"
    if not path.exists():
        from django.core.management.utils import get_random_secret_key

        DATA_DIR.mkdir(parents=True, exist_ok=True)
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "w") as file:
            file.write(get_random_secret_key() + get_random_secret_key())
    return path.read_text().strip()


SECRET_KEY = secret_key()
# Those from before, newest first, with commas between: what they signed or sealed still opens.
SECRET_KEY_FALLBACKS = env.list(PREFIX + "OLD_SECRET_KEYS", default=[])
# Opens the signing keys of the shops. Kept apart from database and backup: whoever has all three can sign.
SIGNING_SEAL = env.str(PREFIX + "SIGNING_SEAL", default="")
SIGNING_SEAL_FILE = DATA_DIR / "signing_seal"
TIMESTAMP_URL = env.str(PREFIX + "TIMESTAMP_URL", default="")
ALLOWED_HOSTS = env.list(PREFIX + "HOSTS", default=["localhost", "127.0.0.1", "[::1]"])
PUBLIC_URL = env.str(PREFIX + "PUBLIC_URL", default="")
CSRF_TRUSTED_ORIGINS = [PUBLIC_URL] if PUBLIC_URL else []
ROOT_URLCONF = "shopwarranty.urls"
WSGI_APPLICATION = "shopwarranty.wsgi.application"
AUTH_USER_MODEL = "shops.User"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

INSTALLED_APPS = [
    "shopwarranty.web",
    "shopwarranty.shops",
    "shopwarranty.outbox",
    "shopwarranty.films",
    "shopwarranty.jobs",
    "shopwarranty.warranty",
    "shopwarranty.inspections",
    "shopwarranty.defects",
    "shopwarranty.claims",
    "shopwarranty.trials",
    "shopwarranty.review",
    "shopwarranty.desk",
    "shopwarranty.demo",
    "shopwarranty.safekeeping",
    "shopwarranty.shops.operator_config.OperatorAdminConfig",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.forms",
    "csp",
    "axes",
    "django_otp",
    "django_otp.plugins.otp_totp",
    "django_otp.plugins.otp_static",
    "django_q",
]

MIDDLEWARE = [
    "shopwarranty.web.headers.HeadersMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "shopwarranty.shops.asking.PublicPagesMiddleware",
    "shopwarranty.shops.middleware.ShopMiddleware",
    "axes.middleware.AxesMiddleware",
    "shopwarranty.shops.again.AgainMiddleware",
]

FORM_RENDERER = "shopwarranty.web.forms.Renderer"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "shopwarranty.web.context.page",
            ],
        },
    },
]

# --- database: IMMEDIATE, because read-then-write in deferred transactions fails at once under load on SQLite
DATABASES = {"default": env.db("DATABASE_URL", default=f"sqlite:///{DATA_DIR / 'shopwarranty.sqlite3'}")}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; PRAGMA cache_size=-64000;",
    }
else:
    if DATABASES["default"]["ENGINE"] == "django.db.backends.postgresql":
        DATABASES["default"]["ENGINE"] = "shopwarranty.shops.postgres"
    DATABASES["default"]["CONN_MAX_AGE"] = 60
    DATABASES["default"]["CONN_HEALTH_CHECKS"] = True

# The second lock on PostgreSQL (see shops/row_security.py); `migrate` puts it in place or takes it away.
# To be switched off behind a pooler that gives one connection to several processes in turn.
ROW_SECURITY = env.bool(PREFIX + "ROW_SECURITY", default=True)

# --- people
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
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
]
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
# Guessing passwords: eight wrong ones for one name from one place, then a quarter of an hour of no.
AXES_FAILURE_LIMIT = 8
AXES_USERNAME_FORM_FIELD = "username"
AXES_COOLOFF_TIME = timedelta(minutes=15)
AXES_LOCKOUT_PARAMETERS = "shopwarranty.shops.bay.counted_by"
AXES_RESET_ON_SUCCESS = True
AXES_DISABLE_ACCESS_LOG = True
AXES_SENSITIVE_PARAMETERS = ["username", "ip_address", "pin"]
AXES_CLIENT_IP_CALLABLE = "shopwarranty.shops.asked_from.asked_from"
AXES_LOCKOUT_CALLABLE = "shopwarranty.shops.views.sign_in.too_often"
AXES_VERBOSE = False
OTP_TOTP_ISSUER = "shopwarranty"
OTP_ADMIN_HIDE_SENSITIVE_DATA = True
# Strangers, from one address: pages read and forms sent (see shops/asking.py).
PUBLIC_READ_A_MINUTE = env.int(PREFIX + "PUBLIC_READ_A_MINUTE", default=120)
PUBLIC_SENT_A_MINUTE = env.int(PREFIX + "PUBLIC_SENT_A_MINUTE", default=30)
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "sign-in"
ADMIN_PATH = env.str(PREFIX + "ADMIN_PATH", default="operator")

# --- words, times
LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English"), ("de", "Deutsch"), ("es", "Español")]
LOCALE_PATHS = [BASE_DIR / "shopwarranty" / "locale"]
FORMAT_MODULE_PATH = ["shopwarranty.web.input_formats"]
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"

# --- files: bytes live under their SHA-256, rows hold hash and length
MEDIA_ROOT = Path(env.str(PREFIX + "MEDIA_DIR", default=str(DATA_DIR / "media")))
STATIC_URL = "/static/"
STATIC_ROOT = Path(env.str(PREFIX + "STATIC_DIR", default=str(DATA_DIR / "static")))
# With a bucket they lie in a store that speaks S3 (shops/s3_store.py). Without keys here, the library looks
# where it always does: its own variables, its files, the role of the machine.
S3_STORE = {
    "bucket_name": env.str(PREFIX + "S3_BUCKET", default=""),
    "endpoint_url": env.str(PREFIX + "S3_ENDPOINT", default="") or None,
    "region_name": env.str(PREFIX + "S3_REGION", default="") or None,
    "location": env.str(PREFIX + "S3_FOLDER", default=""),
    "access_key": env.str(PREFIX + "S3_ACCESS_KEY", default="") or None,
    "secret_key": env.str(PREFIX + "S3_SECRET_KEY", default="") or None,
}
if any(S3_STORE.values()) and not S3_STORE["bucket_name"]:
    raise ImproperlyConfigured(f"{PREFIX}S3_... is set without {PREFIX}S3_BUCKET: say which bucket.")
if S3_STORE["bucket_name"]:
    has_package("storages", "S3_BUCKET")
ON_DISK = {"BACKEND": "django.core.files.storage.FileSystemStorage"}
IN_S3 = {"BACKEND": "shopwarranty.shops.s3_store.S3Store", "OPTIONS": S3_STORE}
STORAGES = {
    "default": IN_S3 if S3_STORE["bucket_name"] else ON_DISK,
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}
WHITENOISE_USE_FINDERS = DEBUG
MAX_UPLOAD_BYTES = env.int(PREFIX + "MAX_UPLOAD_MB", default=50) * 1024 * 1024
MAX_PHOTO_PIXELS = env.int(PREFIX + "MAX_PHOTO_MEGAPIXELS", default=80) * 1_000_000
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 4000
FILE_UPLOAD_MAX_MEMORY_SIZE = 1024 * 1024

# --- mail: without an address of a server, mails are files under DATA_DIR/mail
vars().update(env.email_url(PREFIX + "MAIL_URL", default="filemail://"))
EMAIL_FILE_PATH = str(DATA_DIR / "mail")
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = env.str(PREFIX + "MAIL_FROM", default="shopwarranty@shop.example")

# --- messages that are no mail go to a service of the operator's; what bounced is reported by a signed call
TEXT_HOOK_URL = env.str(PREFIX + "TEXT_HOOK_URL", default="")
TEXT_HOOK_SECRET = env.str(PREFIX + "TEXT_HOOK_SECRET", default="")
TEXT_HOOK_HOSTS = env.list(PREFIX + "TEXT_HOOK_HOSTS", default=[])
BOUNCE_SECRET = env.str(PREFIX + "BOUNCE_SECRET", default="")

# --- background: the queue only wakes us; what is due is a query (see outbox). It lies in the database, or in
# Redis (redis://host:6379/0, rediss:// over TLS): a wake-up lost there is made good by the next one.
QUEUE_URL = env.str(PREFIX + "QUEUE_URL", default="")
if QUEUE_URL:
    has_package("redis", "QUEUE_URL")
Q_CLUSTER = {
    "name": "shopwarranty",
    **({"redis": QUEUE_URL} if QUEUE_URL else {"orm": "default"}),
    "workers": env.int(PREFIX + "WORKERS", default=2),
    "queue_limit": 2,
    "bulk": 1,
    "timeout": 120,
    "retry": 900,
    "max_attempts": 3,
    "ack_failures": True,
    "catch_up": False,
    "poll": 2,
    "guard_cycle": 1,
    "recycle": 200,
    "max_rss": 400_000,
    "save_limit": 250,
}
TICK_SECONDS = env.int(PREFIX + "TICK_SECONDS", default=60)

# --- backups: with a folder, the worker makes one a day and throws the oldest away
BACKUP_DIR = env.str(PREFIX + "BACKUP_DIR", default="")
BACKUP_KEEP = env.int(PREFIX + "BACKUP_KEEP", default=14)
BACKUP_PASS_PHRASE_FILE = env.str(PREFIX + "BACKUP_PASS_PHRASE_FILE", default="")

# --- the browser's side of safety
X_FRAME_OPTIONS = "DENY"
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_AGE = 14 * 24 * 3600
CSRF_FAILURE_VIEW = "shopwarranty.web.views.csrf_failure"
SECURE_REFERRER_POLICY = "same-origin"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "img-src": [SELF, "data:", "blob:"],
        "object-src": [NONE],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
        "form-action": [SELF],
    }
}
# A browser takes such a cookie only over https, from this host, for all of it: no neighbour can plant one.
COOKIE_PREFIX = "__Host-" if HTTPS else ""
SESSION_COOKIE_NAME = f"{COOKIE_PREFIX}sessionid"
CSRF_COOKIE_NAME = f"{COOKIE_PREFIX}csrftoken"
MESSAGE_STORAGE = "shopwarranty.web.notice_store.NoticeStore"
if HTTPS:
    SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = True
    SECURE_SSL_REDIRECT = True
    SECURE_HSTS_SECONDS = env.int(PREFIX + "HSTS_SECONDS", default=365 * 24 * 3600)
    SECURE_HSTS_INCLUDE_SUBDOMAINS = True
    SECURE_HSTS_PRELOAD = True
if env.bool(PREFIX + "PROXY", default=False):
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    # Nobody is named in a log: see web/log_lines.py.
    "filters": {"patterns": {"()": "shopwarranty.web.log_lines.PatternsNotPaths"}},
    "formatters": {
        "plain": {
            "()": "shopwarranty.web.log_lines.NamesNobody",
            "format": "%(asctime)s %(levelname)s %(name)s: %(message)s",
        }
    },
    "handlers": {
        "console": {"class": "logging.StreamHandler", "formatter": "plain", "filters": ["patterns"]}
    },
    "loggers": {"shopwarranty.security": {"level": "INFO"}},
    "root": {"handlers": ["console"], "level": env.str(PREFIX + "LOG_LEVEL", default="WARNING")},
}
