"""Sessions and tokens that have expired are deleted by what beat asks for, and by the web process
where there is no broker.
"""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from django.conf import settings
from django.contrib.sessions.models import Session
from knox.models import AuthToken

from bookings import tasks
from tests.cast import make_user

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


def keep(key: str, lasts: timedelta) -> None:
    """A session that expires then, by the machine's clock, as the framework stamps it."""
    Session.objects.create(session_key=key, session_data="x", expire_date=datetime.now(UTC) + lasts)


@pytest.mark.parametrize("run", [tasks.let_go, tasks._tick], ids=["beat", "no broker"])
def test_expired_sessions_and_tokens_go_and_live_ones_stay(
    run: Callable[[], object], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Judged by the machine's clock, which stamped them, also where the demo's is ahead."""
    monkeypatch.setattr("bookings.clock.now", lambda: datetime.now(UTC) + timedelta(days=120))
    user = make_user()
    keep("over", -HOUR)
    keep("live", HOUR)
    over = AuthToken.objects.create(user, expiry=-HOUR)[0]
    live = [
        AuthToken.objects.create(user, expiry=HOUR)[0],
        AuthToken.objects.create(user, expiry=None)[0],
    ]
    run()
    assert list(Session.objects.values_list("session_key", flat=True)) == ["live"]
    assert set(AuthToken.objects.all()) == set(live)
    assert over not in live


def test_beat_asks_every_minute() -> None:
    """What clears them stands in the schedule that beat reads."""
    asked = settings.CELERY_BEAT_SCHEDULE["enqueue what is due"]
    assert asked == {"task": tasks.enqueue_due.name, "schedule": 60.0}
