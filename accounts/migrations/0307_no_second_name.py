"""The two columns of before go, and the database keeps it at one name."""

from django.db import migrations, models
from django.db.models import Q
from django.db.models.functions import Coalesce


class Migration(migrations.Migration):
    dependencies = [("accounts", "0306_one_name")]
    operations = [
        migrations.AlterModelOptions(
            "student", {"ordering": [Coalesce("user__name", "own_name"), "id"]}
        ),
        migrations.AlterField(
            "student", "first_name", models.CharField(max_length=60, blank=True, default="")
        ),
        migrations.AlterField(
            "student", "surname", models.CharField(max_length=60, blank=True, default="")
        ),
        migrations.RemoveField("student", "first_name"),
        migrations.RemoveField("student", "surname"),
        migrations.AddConstraint(
            "student",
            models.CheckConstraint(
                condition=Q(user__isnull=False, own_name="")
                | (Q(user__isnull=True) & ~Q(own_name="")),
                name="student_has_one_name",
            ),
        ),
    ]
