"""The second part of the story: a group meeting fills, and a freed place goes to the next."""

from datetime import UTC, datetime

from bookings.demo import people
from bookings.demo.client import check, fetch
from bookings.demo.consultation import CHOSEN, NEW_YORK, Subscription
from bookings.demo.mailbox import calendar_part, carries, only_event, read_calendar
from bookings.demo.troupe import Troupe
from bookings.demo.walls import both, in_words, instant_of

GROUP_AT = datetime(2027, 3, 24, 18, 30, tzinfo=UTC)
TITLE = "Chords that speak together"


def fill(troupe: Troupe) -> int:
    """An admin makes a group meeting of two places. Two students take them and a third waits.

    Returns the meeting's id.
    """
    dag = troupe.dag
    asked = {
        "offering": troupe.offerings["Studio class"],
        "instructor": troupe.ilse.me["instructor"]["id"],
        "title": TITLE,
        "places": 2,
    }
    meeting: int = dag.post("meetings/", {**asked, "starts_at": GROUP_AT.isoformat()}, status=201)[
        "id"
    ]
    troupe.say(
        "Dag Emberley makes a group meeting of two places with Ilse: "
        f"{both(GROUP_AT, NEW_YORK, people.ILSE.time_zone)}."
    )
    place = {"meeting": meeting, "as": "player"}
    for person in (troupe.marlo, troupe.imogen):
        person.post("bookings/", place, status=201)
    check("a third booking", "no-place", troupe.noor.post("bookings/", place, status=409)["code"])
    troupe.noor.post(f"meetings/{meeting}/waiting-list/", {"as": "player"}, status=201)
    waiting = [row["student"]["name"] for row in dag.rows(f"meetings/{meeting}/waiting-list/")]
    check("the waiting list", [people.NOOR.name], waiting)
    check("the roster", [people.IMOGEN.name, people.MARLO.name], _roster(troupe, meeting))
    troupe.say(
        "Marlo and Imogen take both places; Noor finds none and is first on the waiting list."
    )
    return meeting


def pass_on(troupe: Troupe, meeting: int) -> None:
    """One student cancels. The place is offered to the first in line, who accepts."""
    noor, marlo = troupe.noor, troupe.marlo
    marlos = next(
        row["id"] for row in marlo.rows("bookings/", standing="HELD") if row["meeting"] == meeting
    )
    marlo.post(f"bookings/{marlos}/cancel/", etag=marlo.look(f"bookings/{marlos}/").etag)
    removal = troupe.mailbox.wait_for(
        marlo.email, "the meeting is taken out of the calendar", carries("CANCEL", GROUP_AT)
    )
    offers = [row for row in noor.rows("offers/") if row["meeting"] == meeting]
    check("offers to Noor", 1, len(offers))
    mail = troupe.mailbox.wait_for(
        noor.email, "the offer of a place", lambda mail: TITLE in str(mail.get_body(("plain",)))
    )
    check("a calendar part in the offer", None, calendar_part(mail))
    answer_by = in_words(instant_of(offers[0]["answer_by"]), NEW_YORK)
    troupe.say(
        f"Marlo cancels and is sent a {only_event(removal)[0].method}. "
        f'The place is offered to Noor until {answer_by}: "{mail["Subject"]}".'
    )
    noor.post(
        f"offers/{offers[0]['id']}/accept/", etag=noor.look(f"bookings/{offers[0]['id']}/").etag
    )
    check("Noor's booking, read back", "HELD", noor.get(f"bookings/{offers[0]['id']}/")["standing"])
    check("the roster", [people.IMOGEN.name, people.NOOR.name], _roster(troupe, meeting))
    troupe.say("Noor accepts, and the roster that Dag reads names Imogen and Noor.")


def _roster(troupe: Troupe, meeting: int) -> list[str]:
    return sorted(
        row["student"]["name"]
        for row in troupe.dag.get(f"meetings/{meeting}/roster/")["results"]
        if row["standing"] == "HELD"
    )


def all_of_it(troupe: Troupe, feed: Subscription, uid: str) -> None:
    """The feed shows all meetings of the story."""
    mail = troupe.mailbox.wait_for(
        troupe.noor.email, "an invitation to the group meeting", carries("REQUEST", GROUP_AT)
    )
    answer = fetch(feed.address, headers={"If-None-Match": feed.etag})
    check("the feed, which has changed", 200, answer.status)
    events = read_calendar(answer.body.decode()).events
    for known, at in ((uid, CHOSEN), (only_event(mail)[1].value("UID"), GROUP_AT)):
        check(f"the feed has {known}", True, known in events)
        check(
            "its start and STATUS",
            (at, "CONFIRMED"),
            (events[known].starts_at, events[known].value("STATUS")),
        )
    troupe.say("Noor's calendar app asks again and shows all of it:")
    for event in sorted(events.values(), key=lambda event: event.starts_at):
        troupe.say(f"  {in_words(event.starts_at, NEW_YORK)}  {event.value('SUMMARY')}")
