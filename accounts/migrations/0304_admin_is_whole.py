"""The database refuses half an admin."""

from django.db import migrations, models
from django.db.models import F, Q


class Migration(migrations.Migration):
    dependencies = [("accounts", "0303_admins_by_both_flags")]
    operations = [
        migrations.AddConstraint(
            "user",
            models.CheckConstraint(
                condition=Q(is_staff=F("is_superuser")), name="user_admin_is_whole"
            ),
        ),
    ]
