"""Django settings. What differs between machines comes from refuge.environment; nothing here reads it."""

from pathlib import Path

from refuge.environment import read_environment

ENVIRONMENT = read_environment()

BASE_DIR = Path(__file__).resolve().parent.parent
DATA_DIR = ENVIRONMENT.data_dir

# Who may ask, and how they are trusted

DEBUG = ENVIRONMENT.debug
SECRET_KEY = ENVIRONMENT.secret_key
ALLOWED_HOSTS = ENVIRONMENT.hosts
BASE_URL = ENVIRONMENT.base_url  # in front of every link that leaves by e-mail or QR code
CSRF_TRUSTED_ORIGINS = [BASE_URL]
SESSION_COOKIE_AGE = 60 * 60 * 24 * 30  # a phone stays signed in for a month of rounds
SECURE_REDIRECT_EXEMPT = [r"^healthz$"]

if ENVIRONMENT.trust_proxy:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    USE_X_FORWARDED_HOST = True

if ENVIRONMENT.https:
    SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_SSL_REDIRECT = True
    SECURE_HSTS_SECONDS = 60 * 60 * 24 * 365

# The neighbours of this host name are not ours to bind to HTTPS, so no subdomains (W005), no preload (W021).
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]

CONTENT_SECURITY_POLICY = {
    "default-src": "'self'",
    "script-src": "'self'",
    "style-src": "'self' 'unsafe-inline'",  # charts set styles on what they draw
    "img-src": "'self' data: blob:",
    "media-src": "'self' blob:",
    "worker-src": "'self' blob:",
    "object-src": "'none'",
    "base-uri": "'self'",
    "form-action": "'self'",
    "frame-ancestors": "'none'",
}

# Parts

INSTALLED_APPS = [
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "rest_framework",
    "rest_framework.authtoken",
    "drf_spectacular",
    "django_htmx",
    "simple_history",
    "import_export",
    "refuge.serving",
    "refuge.people",
    "enclosures",
    "husbandry",
    "filtration",
    "refuge.demo",
    "refuge.exchange",
    "refuge.rounds",  # last: it discovers the rules of the apps before it
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "refuge.security.ContentSecurityPolicyMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.middleware.gzip.GZipMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "simple_history.middleware.HistoryRequestMiddleware",
    "refuge.people.middleware.LastSeenMiddleware",
    "refuge.people.middleware.SiteZoneMiddleware",
]

ROOT_URLCONF = "refuge.urls"
WSGI_APPLICATION = "refuge.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "refuge.people.context.refuge",
                "refuge.rounds.context.notices",
            ],
            "libraries": {"look": "refuge.templatetags.look", "things": "refuge.templatetags.things"},
        },
    },
]

# Where things are kept

DATABASES = {"default": ENVIRONMENT.database}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

STATIC_URL = "/static/"
STATICFILES_DIRS = [BASE_DIR / "refuge" / "static"]
STATICFILES_FINDERS = [
    "django.contrib.staticfiles.finders.FileSystemFinder",
    "django.contrib.staticfiles.finders.AppDirectoriesFinder",
    "refuge.chart_script.ChartScriptFinder",
]
STATIC_ROOT = DATA_DIR / "static"
MEDIA_URL = "/media/"
MEDIA_ROOT = DATA_DIR / "media"
FILE_UPLOAD_PERMISSIONS = 0o600
FILE_UPLOAD_DIRECTORY_PERMISSIONS = 0o700
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if DEBUG
        else "whitenoise.storage.CompressedManifestStaticFilesStorage"
    },
}

# People

AUTH_USER_MODEL = "people.User"
LOGIN_URL = "sign_in"
LOGIN_REDIRECT_URL = "today"
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("username", "name", "email")},
    },
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 10},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]

LANGUAGE_CODE = "en-gb"
TIME_ZONE = "UTC"
USE_TZ = True

# Letters and work in the background

EMAIL_CONFIGURED = ENVIRONMENT.email is not None
DEFAULT_FROM_EMAIL = SERVER_EMAIL = ENVIRONMENT.mail_from
EMAIL_BACKEND = "django.core.mail.backends.dummy.EmailBackend"
globals().update(ENVIRONMENT.email or {})

REMINDER_RETRY_AFTER_S = (60, 300, 1500, 3600, 7200)  # waits after each failure; then a letter is given up
REMINDER_CLAIM_STALE_S = 600  # longer than a worker's time limit: whoever claimed a letter then is dead

CELERY_BROKER_URL = ENVIRONMENT.broker_url

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        "rest_framework.authentication.TokenAuthentication",  # first: it answers 401 to whoever is not known
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["refuge.api.parsing.WholeJSONParser"],
    "DEFAULT_PAGINATION_CLASS": "refuge.api.paging.Pages",
    "PAGE_SIZE": 100,
    "EXCEPTION_HANDLER": "refuge.api.errors.handle",
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "TEST_REQUEST_DEFAULT_FORMAT": "json",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Clearmere",
    "DESCRIPTION": "A refuge's waters, filters, animals and the day's work. Numbers are SI and named by their "
    "columns; null is not known. Times carry their zone; days are the refuge's own. Records are entered with a "
    "uuid made by the client, so that the same request twice makes one record; they are corrected with a reason, "
    "never deleted. What a person may do here is what they may do on the pages.",
    "VERSION": "1",
    "SERVE_INCLUDE_SCHEMA": False,
    "SERVE_PERMISSIONS": ["rest_framework.permissions.IsAuthenticated"],
    "ENUM_NAME_OVERRIDES": {
        "TaskStatus": "refuge.rounds.models.Task.Status",
        "AnimalStatus": "husbandry.models.Animal.Status",
        "FilterState": "filtration.models.FilterUnit.State",
        "WaterChangeKind": "enclosures.models.WaterChange.Kind",
        "HealthRecordKind": "husbandry.models.HealthRecord.Kind",
        "MaintenanceKind": "filtration.models.Maintenance.Kind",
        "FilterHarmKind": "filtration.models.FilterHarm.Kind",
    },
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": "INFO"},
    "loggers": {"django": {"handlers": [], "level": "INFO", "propagate": True}},
}
