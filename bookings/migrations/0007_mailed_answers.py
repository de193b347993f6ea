import django.db.models.deletion
import uuid
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('accounts', '0001_initial'),
        ('bookings', '0006_feed_kinds'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AlterField(
            model_name='outboxmessage',
            name='method',
            field=models.CharField(blank=True, help_text='RFC 5546: REQUEST, CANCEL, DECLINECOUNTER; empty without a calendar part.', max_length=14),
        ),
        migrations.CreateModel(
            name='IgnoredMail',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('day', models.DateField()),
                ('reason', models.CharField(max_length=20)),
                ('count', models.PositiveIntegerField(default=0)),
            ],
            options={
                'ordering': ['-day', 'reason'],
                'constraints': [models.UniqueConstraint(fields=('day', 'reason'), name='ignored_mail_once')],
            },
        ),
        migrations.CreateModel(
            name='LastAnswer',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('sequence', models.PositiveIntegerField(blank=True, null=True)),
                ('stamp', models.DateTimeField(blank=True, null=True)),
                ('hour_began', models.DateTimeField()),
                ('in_hour', models.PositiveIntegerField(default=0)),
                ('meeting', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='bookings.meeting')),
                ('recipient', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.CreateModel(
            name='MoveRequest',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('starts_at', models.DateTimeField()),
                ('sequence', models.PositiveIntegerField()),
                ('asked_at', models.DateTimeField()),
                ('state', models.CharField(choices=[('open', 'Open'), ('accepted', 'Accepted'), ('refused', 'Refused')], default='open', max_length=8)),
                ('answered_at', models.DateTimeField(blank=True, null=True)),
                ('asked_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('booking', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='move_requests', to='bookings.booking')),
            ],
            options={
                'ordering': ['asked_at', 'id'],
            },
        ),
        migrations.AddConstraint(
            model_name='lastanswer',
            constraint=models.UniqueConstraint(fields=('meeting', 'recipient'), name='last_answer_once'),
        ),
        migrations.AddConstraint(
            model_name='moverequest',
            constraint=models.UniqueConstraint(condition=models.Q(('state', 'open')), fields=('booking',), name='move_request_once'),
        ),
        migrations.AddConstraint(
            model_name='moverequest',
            constraint=models.CheckConstraint(condition=models.Q(('state__in', ['open', 'accepted', 'refused'])), name='move_request_state'),
        ),
    ]
