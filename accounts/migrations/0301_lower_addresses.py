"""Addresses in lower case, and allauth's table in step with them: an older address opened the account for ever."""

from django.apps.registry import Apps
from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.models import Exists, OuterRef
from django.db.models.functions import Lower

import accounts.addresses


def lower_addresses(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """No two accounts meet: `user_email_unique` has kept them apart in any spelling."""
    for name in ("User", "Welcome"):
        apps.get_model("accounts", name).objects.update(email=Lower("email"))
    users = apps.get_model("accounts", "User").objects.filter(pk=OuterRef("user"))
    known = apps.get_model("account", "EmailAddress").objects
    known.filter(~Exists(users.filter(email=OuterRef("email")))).delete()


class Migration(migrations.Migration):
    dependencies = [
        ("accounts", "0001_initial"),
        ("account", "0009_emailaddress_unique_primary_email"),
    ]
    operations = [
        migrations.RunPython(lower_addresses, migrations.RunPython.noop, elidable=True),
        migrations.AlterField("user", "email", accounts.addresses.AddressField(max_length=254)),
        migrations.AlterField("welcome", "email", accounts.addresses.AddressField(max_length=254)),
    ]
