"""A number in every session's hash: one more ends them. Everybody signs in again once now."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("accounts", "0001_initial")]

    operations = [
        migrations.AddField(
            model_name="user",
            name="session_epoch",
            field=models.PositiveIntegerField(default=0, editable=False),
        )
    ]
