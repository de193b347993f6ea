"""The first part of the story: hours on Lord Howe Island, and a consultation for New York."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any

from bookings.demo import people
from bookings.demo.client import check, fetch
from bookings.demo.mailbox import carries, only_event, read_calendar
from bookings.demo.troupe import Troupe
from bookings.demo.walls import Week, both, in_words, instant_of, midnight, starts, wall

LORD_HOWE, NEW_YORK = people.BRAM.time_zone, people.NOOR.time_zone
WEEK: Week = {"TU": ("09:00", "12:00"), "TH": ("09:00", "12:00"), "SU": ("16:00", "20:00")}
FIRST, LAST = date(2027, 3, 8), date(2027, 4, 11)  # Monday to Sunday, in the instructor's zone
NEW_YORK_CHANGES_ON = date(2027, 3, 14)
THAT_NIGHT = ["00:00", "00:30", "01:00", "01:30", "03:00", "03:30", "04:00", "04:30"]
# The instructor's Tuesday 09:00 in the student's zone, worked out by hand: New York goes an hour
# forward on 14 March, Lord Howe half an hour back on 4 April.
TUESDAYS = {
    date(2027, 3, 9): "17:00",
    date(2027, 3, 16): "18:00",
    date(2027, 3, 30): "18:00",
    date(2027, 4, 6): "18:30",
}
CHOSEN = datetime(2027, 3, 22, 22, 0, tzinfo=UTC)
QUESTION = "How do I keep my fourth finger from arriving late?"
NEXT_STEP = "Place the fourth finger first and let the others come to it."

Slots = dict[datetime, dict[str, Any]]


@dataclass(frozen=True, slots=True)
class Subscription:
    """A feed as a calendar app knows it: its secret address and the last ETag."""

    address: str
    etag: str


def publish(troupe: Troupe) -> None:
    """An instructor publishes their hours in their own zone."""
    bram = troupe.bram
    windows = [
        {"weekday": weekday, "opens": opens, "closes": closes}
        for weekday, (opens, closes) in WEEK.items()
    ]
    before = bram.look("teaching-hours/")
    check("Bram's hours before", [], before.json["windows"])
    bram.act(
        "PUT", "teaching-hours/", {"time_zone": LORD_HOWE, "windows": windows}, etag=before.etag
    )
    after = bram.get("teaching-hours/")
    check("Bram's hours, read back", (LORD_HOWE, windows), (after["time_zone"], after["windows"]))
    hours = ", ".join(f"{weekday} {opens}-{closes}" for weekday, (opens, closes) in WEEK.items())
    troupe.say(
        "Bram Tolliver publishes teaching hours on Lord Howe Island, by the wall clock there: "
        f"{hours}."
    )


def search(troupe: Troupe) -> Slots:
    """A student searches across the American clock change. zoneinfo alone checks the answer."""
    bounds = {
        "from": midnight(FIRST, LORD_HOWE).isoformat(),
        "to": midnight(LAST + timedelta(days=1), LORD_HOWE).isoformat(),
    }
    consultation, bram = troupe.offerings["Consultation"], troupe.bram.me["instructor"]["id"]
    asked = {"offering": consultation, "instructor": bram, "limit": 500, "night": "include"}
    found = troupe.noor.get("slots/", **asked, **bounds)
    slots = {instant_of(row["starts_at"]): row for row in found["results"]}
    expected = starts(WEEK, LORD_HOWE, FIRST, LAST, minutes=25, step=30)
    check(
        "the starts that zoneinfo gives for these hours",
        [at.isoformat() for at in expected],
        [at.isoformat() for at in slots],
    )
    for at, row in slots.items():
        check(
            "a slot on both clocks",
            (wall(at, NEW_YORK), wall(at, LORD_HOWE)),
            (row["local_start"], row["instructor_local_start"]),
        )
    troupe.say(
        f"Noor Ashgrove searches from New York: {len(slots)} times in five weeks, "
        "each as zoneinfo alone has it."
    )
    troupe.say(
        "Bram's Tuesday 09:00 stays. For Noor it moves with New York's clock change of 14 March "
        "and with Lord Howe's of 4 April:"
    )
    for on, local in TUESDAYS.items():
        at = next(
            at
            for at, row in slots.items()
            if row["instructor_local_start"].startswith(f"{on}T09:00")
        )
        check(f"Bram's Tuesday 09:00 of {on} in New York", local, slots[at]["local_start"][11:16])
        troupe.say(f"  {both(at, NEW_YORK, LORD_HOWE)}")
    _nothing_in_the_gap(troupe, slots)
    return slots


def _nothing_in_the_gap(troupe: Troupe, slots: Slots) -> None:
    night = [
        row["local_start"][11:16]
        for row in slots.values()
        if row["local_start"].startswith(str(NEW_YORK_CHANGES_ON))
    ]
    # The student's Sunday evening is Monday for the instructor, who does not teach then. So the
    # instructor's one window on Sunday is the student's whole day.
    check("the times of 14 March in New York", THAT_NIGHT, night)
    troupe.say(
        f"Bram's Sunday afternoon is the night of New York's change, {', '.join(night)}: "
        "nothing in the hour that New York skips."
    )


def book(troupe: Troupe, slots: Slots) -> int:
    """One student books, another is refused the same start. Returns the booking's id."""
    noor, marlo = troupe.noor, troupe.marlo
    wanted = {
        "offering": troupe.offerings["Consultation"],
        "instructor": troupe.bram.me["instructor"]["id"],
        "starts_at": slots[CHOSEN]["starts_at"],
    }
    request = {**wanted, "intake": {"questions": [QUESTION], "pieces": "Study 4 in D"}}
    made = noor.act("POST", "bookings/", request, status=201, key="noor-books")
    again = noor.act("POST", "bookings/", request, status=201, key="noor-books")
    check("a request sent twice gets the same bytes", made.body, again.body)
    held = [
        (row["id"], row["standing"], row["local_start"])
        for row in noor.rows("bookings/")
        if instant_of(row["starts_at"]) == CHOSEN
    ]
    check("Noor's bookings then", [(made.json["id"], "HELD", wall(CHOSEN, NEW_YORK))], held)
    troupe.say(
        f"Noor books: {both(CHOSEN, NEW_YORK, LORD_HOWE)}. "
        "The request is sent twice; there is one booking."
    )
    refusal = marlo.post("bookings/", wanted, status=409)
    near = [instant_of(row["starts_at"]) for row in refusal["near"]]
    check("the code of Marlo's refusal", "taken", refusal["code"])
    check("three near times, each one offered before", 3, len({*near} & {*slots} - {CHOSEN}))
    check(
        "Marlo's bookings then",
        [],
        [row for row in marlo.rows("bookings/") if instant_of(row["starts_at"]) == CHOSEN],
    )
    troupe.say(
        "Marlo Vance tries the same start, is told that it is taken, "
        "and is shown three times near it:"
    )
    for at in near:
        troupe.say(f"  {both(at, NEW_YORK, LORD_HOWE)}")
    booking: int = made.json["id"]
    return booking


def invitation(troupe: Troupe) -> str:
    """Reads the invitations in the mail folder. Returns the meeting's UID."""
    uids = set()
    for person in (troupe.noor, troupe.bram):
        mail = troupe.mailbox.wait_for(
            person.email, "an invitation to the consultation", carries("REQUEST", CHOSEN)
        )
        _, event = only_event(mail)
        check(
            f"SEQUENCE and ATTENDEE sent to {person}",
            ("0", f"mailto:{person.email}"),
            (event.value("SEQUENCE"), event.value("ATTENDEE")),
        )
        check("the zone of DTSTART", LORD_HOWE, event.all("DTSTART")[0].parameters.get("TZID"))
        uids.add(event.value("UID"))
        troupe.say(
            f'Mail to {person}: "{mail["Subject"]}". Its calendar part, a REQUEST, '
            f"says {in_words(event.starts_at, person.time_zone)}."
        )
    check("one UID for both", 1, len(uids))
    return uids.pop()


def subscribe(troupe: Troupe, uid: str) -> Subscription:
    """A calendar app opens a feed and reads it back."""
    address: str = troupe.noor.post("feeds/", {"name": "My calendar"}, status=201)["address"]
    answer = fetch(address)
    check("the feed", (200, "text/calendar"), (answer.status, answer.headers.get_content_type()))
    event = read_calendar(answer.body.decode()).events.get(uid)
    check("the consultation's start in the feed", CHOSEN, event and event.starts_at)
    again = fetch(address, headers={"If-None-Match": answer.etag})
    check("the feed asked again", (304, b""), (again.status, again.body))
    check("the feed at another secret", 404, fetch(address.replace(".ics", "x.ics")).status)
    troupe.say(
        "Noor's calendar app subscribes to a secret address and finds "
        f"{both(CHOSEN, NEW_YORK, LORD_HOWE)}. Asked again: nothing new, 304."
    )
    return Subscription(address, answer.etag)


def brief(troupe: Troupe, booking: int) -> None:
    """A new assessment reaches the brief of an older booking."""
    bram, ilse, student = troupe.bram, troupe.ilse, troupe.noor.me["students"][0]
    seen = bram.get(f"bookings/{booking}/brief/")
    check("the question on Bram's brief", [QUESTION], seen["intake"]["questions"])
    note = {
        "student": student["id"],
        "level": student["level"],
        "unit": student["unit"],
        "obstacle": "The fourth finger arrives late.",
    }
    draft = ilse.act(
        "POST",
        "assessments/",
        {**note, "next_steps": [NEXT_STEP], "goal": "Ten placed chords at 72."},
        status=201,
    )
    check(
        "a draft is not on the brief",
        seen["assessment"],
        bram.get(f"bookings/{booking}/brief/")["assessment"],
    )
    release = f"assessments/{draft.json['id']}/release/"
    ilse.act("POST", release, {"over": seen["assessment"]["id"]}, etag=draft.etag)
    now = bram.get(f"bookings/{booking}/brief/")["assessment"]
    check(
        "the assessment on the brief",
        ([NEXT_STEP], "Ilse Quarrow"),
        (now["next_steps"], now["author"]["name"]),
    )
    troupe.say(
        f"Bram's brief holds Noor's question and what {seen['assessment']['author']['name']} "
        f"told Noor last: {_quoted(seen['assessment'])}"
    )
    troupe.say(f"Ilse Quarrow releases a newer assessment. The brief now says: {_quoted(now)}")


def _quoted(assessment: dict[str, Any]) -> str:
    return f'"{assessment["next_steps"][0]}"'
