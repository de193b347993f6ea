"""What `docker compose up` starts, started by hand: the very commands and health checks of
docker-compose.yml as local processes.

No container engine is needed. The file's hosts, port and folder are mapped to this machine's;
everything else is as it stands there: the production profile, PostgreSQL, Redis, a worker and beat
in processes of their own. Mail leaves over SMTP.
"""

import json
import shutil
import subprocess
import urllib.error
import urllib.request
from email import message_from_bytes

import pytest

from tests import cast
from tests.functional.house import PATIENCE, House, Sink, figures_of, house, wait_for
from tests.races.server import ROOT

__all__ = ["house"]

pytestmark = [pytest.mark.postgres, pytest.mark.redis]

SCHOOL = """
from datetime import timedelta
from django.utils import timezone
from tests import cast
cast.make_policy(in_force_from=timezone.now() - timedelta(days=400))
offering, ilse = cast.make_offering(), cast.make_instructor()
cast.teaches(ilse, offering)
cast.publish(ilse, cast.EVERY_DAY)
cast.make_student(email="noor@rowanmere.example", password=cast.PASSWORD)
"""


def manage(standing: House, *arguments: str) -> None:
    """Runs manage.py with the environment of the processes."""
    python = shutil.which("python", path=standing.environment["PATH"])
    command = [str(python), "manage.py", *arguments]
    subprocess.run(command, cwd=ROOT, env=standing.environment, check=True)


def book_a_lesson(standing: House) -> None:
    """Noor signs in and books the first start that is free, over HTTP."""
    _, signed_in = standing.ask(
        "/api/v1/tokens/", {"email": "noor@rowanmere.example", "password": cast.PASSWORD}
    )
    token = signed_in["token"]
    _, offerings = standing.ask("/api/v1/offerings/", token=token)
    offering = offerings["results"][0]["id"]
    _, slots = standing.ask(f"/api/v1/slots/?offering={offering}", token=token)
    first = slots["results"][0]
    sent = {
        "offering": offering,
        "instructor": first["instructor"]["id"],
        "starts_at": first["starts_at"],
    }
    status, booked = standing.ask("/api/v1/bookings/", sent, token)
    assert (status, booked["standing"]) == (201, "HELD")


def check_figures(standing: House) -> None:
    """gunicorn's two processes share the requests somehow; whoever is asked knows the sum."""
    assert figures_of(standing)['levare_bookings{ended="",standing="HELD"}'] == 1
    for _ in range(12):
        with pytest.raises(urllib.error.HTTPError, match="404"):
            standing.ask("/calendar/nobody-has-this.ics")
    answers = [figures_of(standing)['levare_feed_answers_total{status="404"}'] for _ in range(4)]
    assert set(answers) == {12}


def check_logs(standing: House) -> None:
    """Web and beat write JSON alone, and all three start under the production profile."""
    assert all(
        json.loads(line) for name in ("web", "beat") for line in standing.log(name).splitlines()
    )
    for name in ("web", "worker", "beat"):
        started = [
            line for line in standing.log(name).splitlines() if '"event": "levare starts"' in line
        ]
        assert started and all(json.loads(line)["profile"] == "production" for line in started)


def test_compose_starts_a_school(house: tuple[House, Sink]) -> None:
    """Migrated once, web, worker and beat are well by their own health checks; a lesson is booked
    over HTTP, its letters leave through the worker, beat asks what is due; on SIGTERM all end
    cleanly.
    """
    standing, sink = house
    assert standing.start("migrate").wait(PATIENCE) == 0, standing.log("migrate")
    standing.running.clear()
    manage(standing, "collectstatic", "--noinput", "-v", "0")  # the image has collected its files
    manage(standing, "shell", "-v", "0", "-c", SCHOOL)
    for name in ("web", "worker", "beat"):
        standing.start(name)
    for name in ("web", "worker", "beat"):
        standing.wait_until_well(name)

    wait_for(lambda: "task_enqueued" in standing.log("beat"), lambda: standing.log("beat"))
    book_a_lesson(standing)
    check_figures(standing)
    wait_for(lambda: sink.letters, lambda: standing.log("worker"))
    assert any(
        "noor@rowanmere.example" in str(message_from_bytes(letter)["To"]) for letter in sink.letters
    )
    check_logs(standing)
    assert standing.stop() == {"web": 0, "worker": 0, "beat": 0}
