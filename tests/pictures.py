"""`python -m tests.pictures`: the pictures of the README and the guides, written to docs/pictures.

They show the demo school at one moment, whatever day it is: its clock stands still. Run it again
once pages have changed. It needs Chromium and requirements/browser.txt.
"""

import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from unittest import mock

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")  # Playwright runs a loop in this thread

import django

django.setup()

from django.conf import settings  # noqa: E402  the settings come first
from django.contrib.staticfiles.handlers import StaticFilesHandler  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.test import Client  # noqa: E402
from django.test.testcases import LiveServerThread  # noqa: E402

from accounts.models import Instructor, Student, User  # noqa: E402
from bookings import solving  # noqa: E402
from bookings.demo import people, school  # noqa: E402
from bookings.domain.vocabulary import PlanKind  # noqa: E402
from bookings.door import write  # noqa: E402
from bookings.models import Offering, Plan  # noqa: E402
from bookings.operations.plans import ask_for_plan  # noqa: E402
from bookings.operations.subscriptions import open_feed  # noqa: E402
from tests import services  # noqa: E402
from tests.cast import NOW  # noqa: E402

FOLDER = Path(settings.BASE_DIR) / "docs" / "pictures"
MOMENT = NOW + timedelta(minutes=5)
NEXT_DAY = NOW + timedelta(days=1)
WIDE = 1120
MOST_BYTES = 250_000
HOST = "127.0.0.1"


@dataclass(frozen=True, slots=True)
class Picture:
    """A page as one person sees it at an instant, down to `height` pixels."""

    name: str
    who: people.Adult
    address: str
    height: int
    at: datetime = MOMENT


class StandingClock:
    """The clock of the pages while a picture is drawn."""

    at = MOMENT

    def now(self) -> datetime:
        return self.at


CLOCK = StandingClock()


def prepare() -> list[Picture]:
    """Loads the demo school, with a plan and a subscription beside what it has; what to draw."""
    call_command("migrate", verbosity=0)
    school.load(now=NOW)
    noor, dag = (User.objects.get(email=who.email) for who in (people.NOOR, people.DAG))
    write(lambda: open_feed(actor=noor, label="My phone", now=NOW), now=NOW)
    plan = _group_plan(dag)
    ilse = Instructor.objects.get(user__email=people.ILSE.email)
    across_the_clock_change = f"/times/?since=2027-03-12&instructor={ilse.pk}"
    return [
        Picture("times-that-suit", people.NOOR, across_the_clock_change, 1100),
        Picture("my-lessons", people.NOOR, "/my-lessons/", 620),
        Picture("calendars", people.NOOR, "/calendars/", 540),
        Picture("today", people.TENZIN, "/today/", 860),
        Picture("hours", people.ILSE, "/hours/", 820),
        Picture("needs-you-now", people.DAG, "/needs/", 760, NEXT_DAY),
        Picture("plan-a-group", people.DAG, f"/plans/{plan.pk}/", 900),
    ]


def _group_plan(admin: User) -> Plan:
    """When four adults on four continents should meet Ilse, solved."""
    names = (people.NOOR, people.IMOGEN, people.LIA, people.ISHANI)
    asked: dict[str, Any] = {
        "offering": Offering.objects.get(name="Studio class").pk,
        "instructors": [Instructor.objects.get(user__email=people.ILSE.email).pk],
        "students": [Student.objects.get(user__email=who.email).pk for who in names],
        "first_on": "2027-03-22",
        "last_on": "2027-04-09",
        "mode": "series",
        "meetings": 3,
        "days_apart": 7,
        "places": 6,
        "title": "Ornaments",
        "seconds": 60,
    }
    plan = write(
        lambda: ask_for_plan(actor=admin, kind=PlanKind.GROUP, asked=asked, now=NOW), now=NOW
    )
    solving.solve_plans()
    return plan


def session_of(who: people.Adult) -> str:
    """The cookie of a browser in which that person is signed in."""
    client = Client()
    user = User.objects.get(email=who.email)
    client.force_login(user, backend="allauth.account.auth_backends.AuthenticationBackend")
    return client.cookies["sessionid"].value


@contextmanager
def serving() -> Iterator[str]:
    """The school's pages at an address, until the block ends."""
    server = LiveServerThread(HOST, StaticFilesHandler)
    server.daemon = True
    server.start()
    server.is_ready.wait()
    if server.error:
        raise server.error
    try:
        yield f"http://{HOST}:{server.port}"
    finally:
        server.terminate()


def draw(pictures: Sequence[Picture]) -> list[Path]:
    """Writes each picture; returns the files."""
    from playwright.sync_api import sync_playwright

    FOLDER.mkdir(parents=True, exist_ok=True)
    cookies = {picture.who: session_of(picture.who) for picture in pictures}
    written = []
    with serving() as base, sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=services.CHROMIUM, args=["--no-sandbox", "--disable-gpu"]
        )
        for picture in pictures:
            context = browser.new_context(
                base_url=base,
                viewport={"width": WIDE, "height": picture.height},
                timezone_id=picture.who.time_zone,
                color_scheme="light",
            )
            cookie = cookies[picture.who]
            context.add_cookies([{"name": "sessionid", "value": cookie, "url": base}])
            page = context.new_page()
            CLOCK.at = picture.at
            answer = page.goto(picture.address)
            if answer is None or answer.status != 200:
                raise SystemExit(f"{picture.address} cannot be drawn: {answer and answer.status}")
            written.append(FOLDER / f"{picture.name}.png")
            page.screenshot(path=written[-1])
            context.close()
        browser.close()
    return written


def main() -> int:
    why_not = services.missing("browser")
    if why_not:
        print(f"No pictures: {why_not}.", file=sys.stderr)
        return 1
    with mock.patch("bookings.clock.now", CLOCK.now):
        written = draw(prepare())
    large = [path for path in written if path.stat().st_size >= MOST_BYTES]
    for path in written:
        print(f"{path.relative_to(settings.BASE_DIR)}  {path.stat().st_size // 1000} kB")
    return 1 if large else 0


if __name__ == "__main__":
    sys.exit(main())
