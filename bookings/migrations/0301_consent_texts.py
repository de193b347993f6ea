"""The school's own words of consent."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("bookings", "0010_move_requests_closed")]
    operations = [
        migrations.CreateModel(
            "ConsentText",
            [
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("version", models.CharField(max_length=20)),
                ("text", models.TextField()),
                ("published_at", models.DateTimeField()),
            ],
            options={
                "ordering": ["-published_at", "-id"],
                "constraints": [
                    models.UniqueConstraint(
                        fields=["version"], name="consent_text_version_once"
                    )
                ],
            },
        ),
    ]
