import re

from django.db import migrations, models
from django.db.models import Q


def forget_words(apps, schema_editor):
    """Of what mail servers said, the kind and the code stay; their words quote emails."""
    messages = apps.get_model("bookings", "OutboxMessage").objects.exclude(last_error="")
    for key, said in messages.values_list("pk", "last_error").iterator():
        kind, _, words = said.partition(":")
        code = re.search(r"\b[45]\d\d\b", words) if kind.startswith("SMTP") else None
        messages.filter(pk=key).update(last_error=f"SMTP {code[0]}" if code else kind[:80])


class Migration(migrations.Migration):

    dependencies = [("bookings", "0010_move_requests_closed")]

    operations = [
        migrations.AddField(
            model_name="outboxmessage",
            name="waits_since",
            field=models.DateTimeField(blank=True, null=True),
        ),
        migrations.RunPython(forget_words, migrations.RunPython.noop, elidable=True),
        migrations.AlterField(
            model_name="outboxmessage",
            name="last_error",
            field=models.CharField(blank=True, max_length=80),
        ),
        migrations.AddIndex(
            model_name="outboxmessage",
            index=models.Index(
                condition=Q(("state", "due"), ("waits_since__isnull", False)),
                fields=["waits_since"],
                name="outbox_waits",
            ),
        ),
        migrations.AddIndex(
            model_name="outboxmessage",
            index=models.Index(
                condition=Q(("state", "given-up")), fields=["due_at"], name="outbox_given_up"
            ),
        ),
    ]
