
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('bookings', '0007_mailed_answers'),
    ]

    operations = [
        migrations.AddField(
            model_name='feed',
            name='version',
            field=models.PositiveIntegerField(default=1),
        ),
    ]
