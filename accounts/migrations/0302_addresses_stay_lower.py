"""The database refuses capitals too. After the rows, since PostgreSQL alters no table with changes still to check."""

from django.db import migrations, models
from django.db.models import Q
from django.db.models.functions import Lower


class Migration(migrations.Migration):
    dependencies = [("accounts", "0301_lower_addresses")]
    operations = [
        migrations.AddConstraint(
            "user",
            models.CheckConstraint(
                condition=Q(email=Lower("email")),
                name="user_email_lower",
            ),
        ),
        migrations.AddConstraint(
            "welcome",
            models.CheckConstraint(
                condition=Q(email=Lower("email")),
                name="welcome_email_lower",
            ),
        ),
    ]
