"""The third part of the story: eight consultations in a day, their briefs, and two wrapped up."""

from datetime import UTC, datetime
from typing import Any

from bookings.demo import people
from bookings.demo.client import check, page_of
from bookings.demo.day import DAY
from bookings.demo.mailbox import carries
from bookings.demo.troupe import Troupe
from bookings.demo.walls import both, instant_of, wall

HERE = people.TENZIN.time_zone
FOUR_WEEKS_ON = {
    people.MERRIN: datetime(2027, 3, 29, 1, 15, tzinfo=UTC),
    people.POSY: datetime(2027, 3, 29, 1, 45, tzinfo=UTC),
}
"""Tenzin's Monday 07:00 and 07:30, worked out by hand: Kathmandu is 5:45 ahead."""


def briefs(troupe: Troupe) -> list[dict[str, Any]]:
    """The day as Tenzin finds it, and the page that they print. Returns the day's places."""
    tenzin = troupe.tenzin
    entries = tenzin.get("today/")["entries"]
    places = [place for entry in entries for place in entry["people"]]
    check("Tenzin's day", [str(row.at)[:5] for row in DAY], [_clock(row) for row in entries])
    names = [place["student"]["name"].split()[0] for place in places]
    check("who comes", [row.student.name.split()[0] for row in DAY], names)
    page = page_of(troupe.base, tenzin.email, people.PASSWORD, "/today/briefs/")
    check("briefs on the page to print", len(DAY), page.count('<article class="brief">'))
    asked = [row.question.split()[-1] in page for row in DAY]
    check("every brief has its question", [True] * len(DAY), asked)
    troupe.say(
        f"Tenzin Orlo has eight consultations today, {_clock(entries[0])} to "
        f"{wall(instant_of(entries[-1]['ends_at']), HERE)[11:16]} in Kathmandu, and prints the "
        f"briefs: {', '.join(names[:-1])} and {names[-1]}, each on a page."
    )
    return places


def wrap_up(troupe: Troupe, places: list[dict[str, Any]]) -> None:
    """Two are wrapped up with a note and the next date, and one did not come."""
    merrin, posy, tova = (place["booking"] for place in places[:3])
    for booking, student, reader in (
        (merrin, people.MERRIN, people.MERRIN),
        (posy, people.POSY, people.HEDDA),
    ):
        starts_at = FOUR_WEEKS_ON[student]
        done = troupe.tenzin.post(
            f"bookings/{booking}/wrap-up/",
            {
                "attendance": "PRESENT",
                "note": {
                    "next_steps": ["Sit, breathe, then place"],
                    "goal": "The first line without a pause.",
                    "follow_up_weeks": 4,
                },
                **_over(troupe, booking),
                "release": True,
                "next": {"book": starts_at.isoformat()},
            },
        )
        check("the note", "RELEASED", done["written"]["standing"])
        check("the next date", starts_at, instant_of(done["booked"]["starts_at"]))
        mail = troupe.mailbox.wait_for(
            reader.email, "an invitation to the next lesson", carries("REQUEST", starts_at)
        )
        troupe.say(
            f"{student.name.split()[0]} is wrapped up: present, a note released, the next date "
            f"agreed: {both(starts_at, student.time_zone, HERE)}. {reader.name.split()[0]} reads: "
            f'"{mail["Subject"]}".'
        )
    missed = {"attendance": "ABSENT_WITH_NOTICE"}
    troupe.tenzin.post(f"bookings/{tova}/wrap-up/", missed)
    waiting = {row["what"]: row["count"] for row in troupe.tenzin.get("today/")["waiting"]}
    check("lessons that still wait for Tenzin", {}, waiting)
    troupe.say(
        "Tova could not come, which needs no note. Ishani is with Tenzin now; four are to come."
    )


def _over(troupe: Troupe, booking: int) -> dict[str, int]:
    """The latest note that the brief shows: the new one comes after it."""
    latest = troupe.tenzin.get(f"bookings/{booking}/brief/")["assessment"]
    return {"over": latest["id"]} if latest else {}


def _clock(entry: dict[str, Any]) -> str:
    return wall(instant_of(entry["starts_at"]), HERE)[11:16]
