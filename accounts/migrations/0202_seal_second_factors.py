"""The secrets of second factors were stored in clear: this seals those that are there."""

from collections.abc import Callable
from typing import Any

from cryptography.exceptions import InvalidTag
from django.db import migrations

from accounts.second_factor import open_secret, seal_secret


def _each(apps: Any, change: Callable[[str], str]) -> None:
    for row in apps.get_model("mfa", "Authenticator").objects.all():
        for name in ("secret", "seed"):
            if name in row.data:
                row.data[name] = change(row.data[name])
        if "migrated_codes" in row.data:
            row.data["migrated_codes"] = [change(code) for code in row.data["migrated_codes"]]
        row.save(update_fields=["data"])


def _sealed(stored: str) -> str:
    try:
        open_secret(stored)
    except InvalidTag:
        return seal_secret(stored)
    return stored  # by a process of the new release that was quicker


def seal_all(apps: Any, schema_editor: Any) -> None:
    _each(apps, _sealed)


def open_all(apps: Any, schema_editor: Any) -> None:
    _each(apps, open_secret)


class Migration(migrations.Migration):
    dependencies = [
        ("accounts", "0201_user_session_epoch"),
        ("mfa", "0003_authenticator_type_uniq"),
    ]

    operations = [migrations.RunPython(seal_all, open_all)]
