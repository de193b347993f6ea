"""A calendar app that follows a feed, and what the pages say of the same meetings."""

import re
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.test import Client
from icalendar import Calendar

from tests.functional.pages.visitor import Visitor

DUBLIN = ZoneInfo("Europe/Dublin")
Said = tuple[str, bool]
"""A meeting as "Friday 12 March 18:00 to 19:00", and whether it is called off."""


class App:
    """It knows the address alone, and asks as calendar apps do: only for what is new."""

    def __init__(self, address: str) -> None:
        self._path, self._tag, self._kept = address.partition("8000")[2], "", b""

    def refresh(self) -> bool:
        """Whether there was anything new."""
        response: Any = Client().get(self._path, headers={"If-None-Match": self._tag})
        if response.status_code == 304:
            return False
        assert response.status_code == 200
        assert response["Content-Type"].startswith("text/calendar")
        self._tag, self._kept = response["ETag"], response.content
        return True

    def shows(self) -> set[Said]:
        """Every entry, on the clock of Dublin."""
        return {(_said(one), one.get("STATUS") == "CANCELLED") for one in self._events()}

    def shows_ahead(self, now: datetime) -> set[str]:
        """The entries that are to come and take place."""
        ahead = [one for one in self._events() if one.decoded("DTSTART") > now]
        return {_said(one) for one in ahead if one.get("STATUS") != "CANCELLED"}

    def _events(self) -> list[Any]:
        return list(Calendar.from_ical(self._kept).walk("VEVENT"))


def _said(event: Any) -> str:
    start, end = _local(event.decoded("DTSTART")), _local(event.decoded("DTEND"))
    return f"{start:%A} {start.day} {start:%B} {start:%H:%M} to {end:%H:%M}"


def _local(instant: datetime) -> datetime:
    return instant.astimezone(DUBLIN)


def follows_in_app(who: Visitor) -> App:
    """The address is shown once; it is given to the app."""
    who.open("/")
    who.follow("Calendars")
    who.send("Make an address", {"A name, such as Phone": "Phone"})
    (address,) = [one.words for one in who.page.all("code")]
    app = App(address)
    assert app.refresh()
    return app


def on_meetings(ilse: Visitor) -> set[Said]:
    """What an instructor reads on Meetings, past ones included."""
    ilse.open("/")
    ilse.follow("Meetings")
    ahead = _rows(ilse)
    ilse.follow("Past meetings")
    return ahead | _rows(ilse)


def _rows(ilse: Visitor) -> set[Said]:
    found, day = set(), ""
    for one in ilse.page.all("h2", "section"):
        if one.tag == "h2":
            day = one.words
        else:
            clock = re.search(r"\d\d:\d\d to \d\d:\d\d", one.words)
            assert clock is not None
            found.add((f"{day} {clock[0]}", "Called off" in one.words))
    return found


def on_my_lessons(family: Visitor) -> set[str]:
    """What a family reads as booked ahead on My lessons."""
    family.open("/")
    sections = family.page.all("section")
    booked = [one for one in sections if one.held.get("id", "").startswith("lesson-")]
    return {next(one.all("h2")).words for one in booked}
