from django.db import migrations, models


def drop_the_students_guard(apps, schema_editor):
    """Its condition names a new column; guards.install puts it back after the migrations, as they are written now."""
    if schema_editor.connection.vendor == 'sqlite':
        schema_editor.execute('DROP TRIGGER IF EXISTS booking_student_free_insert')
        schema_editor.execute('DROP TRIGGER IF EXISTS booking_student_free_update')
    else:
        schema_editor.execute('ALTER TABLE bookings_booking DROP CONSTRAINT IF EXISTS booking_student_free')


class Migration(migrations.Migration):

    dependencies = [
        ('bookings', '0003_terms'),
    ]

    operations = [
        migrations.RunPython(drop_the_students_guard, drop_the_students_guard),
        migrations.AddField(
            model_name='booking',
            name='is_flagged',
            field=models.BooleanField(default=False, help_text='A new zone rule put its student into two meetings at once; both are kept.'),
        ),
        migrations.AddField(
            model_name='meeting',
            name='flagged_why',
            field=models.CharField(blank=True, help_text='What stands against it: words of Clash, with spaces between.', max_length=40),
        ),
        migrations.AlterField(
            model_name='meeting',
            name='is_flagged',
            field=models.BooleanField(default=False, help_text='A new zone rule put it where a person has to look; nothing was given up.'),
        ),
        migrations.RunPython(drop_the_students_guard, drop_the_students_guard),  # backwards it comes before the column goes
    ]
