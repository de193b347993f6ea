"""Which passwords people may choose."""

from typing import Any

_RULES = "django.contrib.auth.password_validation"
VALIDATORS: list[dict[str, Any]] = [
    {
        "NAME": f"{_RULES}.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("email", "name")},
    },
    {"NAME": f"{_RULES}.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": f"{_RULES}.CommonPasswordValidator"},
    {"NAME": f"{_RULES}.NumericPasswordValidator"},
]
