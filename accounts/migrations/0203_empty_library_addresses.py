"""The account library kept addresses of its own, by which a password was reset long after an
address had changed.
"""

from typing import Any

from django.db import migrations


def empty(apps: Any, schema_editor: Any) -> None:
    """User.email is the one address; the library falls back to it where it has none."""
    apps.get_model("account", "EmailAddress").objects.all().delete()


class Migration(migrations.Migration):
    dependencies = [
        ("accounts", "0202_seal_second_factors"),
        ("account", "0009_emailaddress_unique_primary_email"),
    ]

    operations = [migrations.RunPython(empty, migrations.RunPython.noop)]
