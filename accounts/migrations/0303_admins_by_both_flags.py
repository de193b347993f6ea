"""Who is an admin is one by both of Django's flags; `is_staff` alone was what the school had ticked."""

from django.apps.registry import Apps
from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.models import F


def follow_the_tick(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """The half that pages and API have gone by decides."""
    apps.get_model("accounts", "User").objects.update(is_superuser=F("is_staff"))


class Migration(migrations.Migration):
    dependencies = [
        ("accounts", "0302_addresses_stay_lower"),
        ("accounts", "0201_user_session_epoch"),
    ]
    operations = [migrations.RunPython(follow_the_tick, migrations.RunPython.noop, elidable=True)]
