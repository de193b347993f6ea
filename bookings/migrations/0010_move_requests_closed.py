from django.db import migrations, models


def close_what_nobody_can_answer(apps, schema_editor):
    """A booking that has ended leaves no open request behind; its end is when the request closed."""
    bookings = apps.get_model("bookings", "Booking").objects.filter(pk=models.OuterRef("booking"))
    left = apps.get_model("bookings", "MoveRequest").objects.filter(state="open", booking__standing="ENDED")
    left.update(state="closed", answered_at=models.Subquery(bookings.values("ended_at")))


class Migration(migrations.Migration):

    dependencies = [
        ("bookings", "0009_feed_version"),
    ]

    operations = [
        migrations.RemoveConstraint(model_name="moverequest", name="move_request_state"),
        migrations.AlterField(
            model_name="moverequest",
            name="sequence",
            field=models.PositiveIntegerField(blank=True, null=True),
        ),
        migrations.AlterField(
            model_name="moverequest",
            name="state",
            field=models.CharField(
                choices=[("open", "Open"), ("accepted", "Accepted"), ("refused", "Refused"), ("closed", "Closed")],
                default="open",
                max_length=8,
            ),
        ),
        migrations.AddConstraint(
            model_name="moverequest",
            constraint=models.CheckConstraint(
                condition=models.Q(("state__in", ["open", "accepted", "refused", "closed"])), name="move_request_state"
            ),
        ),
        migrations.RunPython(close_what_nobody_can_answer, migrations.RunPython.noop),
    ]
