from django.db import migrations, models

import bookings.models.meetings


class Migration(migrations.Migration):

    dependencies = [("bookings", "0501_outbox_waits")]

    operations = [
        # The meetings that are there were told the address that is set when this runs.
        migrations.AddField(
            model_name="meeting",
            name="organizer",
            field=models.CharField(
                default=bookings.models.meetings.organizer_now, editable=False, max_length=254
            ),
        ),
    ]
