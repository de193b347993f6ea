"""Hours that an instructor cannot teach, as they read them before anything is done."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from accounts.models import Instructor, User
from bookings.domain.clearing import Decision, Remedy
from bookings.domain.timeline import Period
from bookings.models import Booking, Meeting, OutboxMessage
from bookings.outbox.kinds import REMINDERS
from bookings.queries.clearing import Substitutes, substitutes_for
from bookings.queries.days_away import (
    Concerned,
    meetings_in_the_way,
    preview_of,
    readers_as,
    seen_of,
)


@dataclass(frozen=True, slots=True)
class Option:
    """A meeting, who is in it, and what could become of it.

    `decision` is what is chosen for it now. `substitute` is who would cover it; without one
    `why_not` says why, in a sentence.
    """

    meeting: Meeting
    names: list[str]
    decision: Decision
    substitute: Instructor | None
    why_not: str


@dataclass(frozen=True, slots=True)
class Options:
    """The meetings of the stretch by start, those that run now and stay, and the digest `seen`."""

    rows: list[Option]
    running: list[Meeting]
    seen: str

    @property
    def decisions(self) -> list[Decision]:
        return [row.decision for row in self.rows]


@dataclass(frozen=True, slots=True)
class EmailShown:
    """The readable email of one reader, and how many others put it into their calendar."""

    whom: str
    title: str
    body: str
    entries: int
    is_for_family: bool


def options_in(
    instructor: Instructor,
    stretch: Period,
    chosen: Mapping[int, Remedy],
    *,
    reader: User,
    now: datetime,
) -> Options:
    """What could become of each meeting ahead in the stretch.

    Where nothing is chosen, a lesson is covered if somebody can take it, and all else is called
    off. Substitutes are found for all lessons together that are to be covered.
    """
    since, until = stretch.starts_at, stretch.ends_at
    meetings = meetings_in_the_way(instructor, since=since, until=until, now=now)
    lessons = _lessons_of(meetings)
    of_all = substitutes_for(list(lessons.values()), stretch, now=now)
    wanted = [
        lesson for pk, lesson in lessons.items() if chosen.get(pk, Remedy.COVER) == Remedy.COVER
    ]
    is_all = len(wanted) == len(lessons)
    found = of_all if is_all else substitutes_for(wanted, stretch, now=now)
    rows = [
        _option(row.meeting, row.names, chosen.get(row.meeting.pk), found, of_all)
        for row in preview_of(meetings, reader=reader, now=now).in_the_way
    ]
    running = Meeting.objects.not_called_off().taught_by(instructor).filter(starts_at__lte=now)
    running = running.ending_after(max(now, since)).filter(starts_at__lt=until)
    return Options(rows, list(running.select_related("offering")), seen_of(meetings))


def _lessons_of(meetings: Sequence[Meeting]) -> dict[int, Booking]:
    """The booking of each one-on-one by meeting."""
    held = Booking.objects.in_meetings(meetings).held().with_details().order_by("starts_at", "pk")
    return {row.meeting_id: row for row in held if row.meeting.offering.is_one_on_one}


def _option(
    meeting: Meeting,
    names: list[str],
    chosen: Remedy | None,
    found: Substitutes,
    of_all: Substitutes,
) -> Option:
    pk = meeting.pk
    decision = Decision(pk, Remedy.CALL_OFF)
    substitute = found.found.get(pk) or of_all.found.get(pk)
    why_not = "" if substitute else found.why_not.get(pk, "") or of_all.why_not.get(pk, "")
    if not meeting.offering.is_one_on_one:
        return Option(meeting, names, decision, None, "")
    if chosen in (None, Remedy.COVER) and pk in found.found:
        covers = found.found[pk].pk
        decision = replace(decision, remedy=Remedy.COVER, instructor_id=covers)
    elif chosen is not None and chosen != Remedy.COVER:
        decision = replace(decision, remedy=chosen)
    return Option(meeting, names, decision, substitute, why_not)


def emails_shown(
    messages: Sequence[OutboxMessage], places: Sequence[Concerned], *, reader: User, now: datetime
) -> list[EmailShown]:
    """The emails of a rehearsal by reader: families first, then instructors. `places` are all that
    it is about.

    Whoever may not read who a guardian is reads no greeting either.
    """
    families = readers_as(reader, places, now=now)
    by_person: dict[User, list[OutboxMessage]] = {}
    for message in messages:
        if message.kind not in REMINDERS:
            by_person.setdefault(message.reader, []).append(message)
    shown = []
    for person, (first, *others) in by_person.items():
        names = families.get(person, [person.name])
        is_hidden = not reader.is_staff and any(name.startswith("a guardian") for name in names)
        body = first.body.replace(person.name, "…", 1) if is_hidden else first.body
        is_family = person in families
        entries = len(others) if not first.method else 0
        shown.append(EmailShown("; ".join(names), first.title, body, entries, is_family))
    return sorted(shown, key=lambda one: not one.is_for_family)
