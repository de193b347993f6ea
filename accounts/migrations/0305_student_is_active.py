"""Students who have left; today that is said of an account only."""

from django.apps.registry import Apps
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor


def follow_the_account(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Whose account is closed, and for whom no guardian acts, has left."""
    students = apps.get_model("accounts", "Student").objects
    students.filter(user__is_active=False, guardianships=None).update(is_active=False)


class Migration(migrations.Migration):
    dependencies = [("accounts", "0304_admin_is_whole")]
    operations = [
        migrations.AddField("student", "is_active", models.BooleanField(default=True)),
        migrations.RunPython(follow_the_account, migrations.RunPython.noop, elidable=True),
    ]
