
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('bookings', '0008_zone_rules'),
    ]

    operations = [
        migrations.AddField(
            model_name='feed',
            name='version',
            field=models.PositiveIntegerField(default=1),
        ),
    ]
