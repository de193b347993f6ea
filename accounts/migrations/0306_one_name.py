"""One name a person: the account's, or the one the school noted for a student without an account."""

from django.apps.registry import Apps
from django.db import migrations, models
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.models import Value
from django.db.models.functions import Concat, Trim


def join_names(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Where there is an account its name stays: its owner chose it."""
    without = apps.get_model("accounts", "Student").objects.filter(user=None)
    without.update(own_name=Trim(Concat("first_name", Value(" "), "surname")))


def part_names(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Back again: the first word, and the rest."""
    students = apps.get_model("accounts", "Student").objects
    for student in students.select_related("user").iterator():
        name = student.user.name if student.user is not None else student.own_name
        student.first_name, _, student.surname = (part[:60] for part in name.partition(" "))
        student.save(update_fields=["first_name", "surname"])


class Migration(migrations.Migration):
    dependencies = [("accounts", "0305_student_is_active")]
    operations = [
        migrations.AddField(
            "student",
            "own_name",
            models.CharField("name without an account", max_length=120, blank=True, default=""),
            preserve_default=False,
        ),
        migrations.RunPython(join_names, part_names, elidable=True),
    ]
