"""The emails about many at once: times proposed to a family, the order of a masterclass, places in
several meetings.
"""

from datetime import timedelta

from accounts.models import Student
from bookings import notices
from bookings.domain.planning.agenda import Early
from bookings.domain.vocabulary import PlaceKind, Standing
from bookings.models import AskedHours, Intake, ProposedTimes
from tests.cast import NOW, at
from tests.integration.told_words import LATER, Told
from tests.school.golden import School
from tests.school.plans import plan_row


def next_ones(school: School) -> Told:
    """One time for each of two children, proposed in one act."""
    proposed = []
    for child, start in ((school.posy, "2027-03-16T09:00Z"), (school.kit, "2027-03-16T09:30Z")):
        proposal = ProposedTimes.objects.create(
            pk=school.key(),
            student=child,
            offering=school.consultation,
            instructor=school.ilse,
            made_by=school.ilse.user,
            made_at=NOW,
            answer_by=at("2027-03-04T13:00Z"),
        )
        held = school.meeting(starts_at=start, status="TENTATIVE", is_proposed=True)
        more = {"answer_by": proposal.answer_by, "proposed": proposal}
        time = school.booking(held, child, standing=Standing.OFFERED, **more)
        proposed.append((proposal, [time]))
    yield "times_proposed_to_two", notices.times_proposed(proposed, now=NOW)


def playing(school: School) -> Told:
    """The order of a masterclass: a student who plays early, and a child."""
    meeting = school.meeting(school.masterclass, "2027-03-20T10:00Z", places=4)
    turns = {}
    for number, student in enumerate((school.noor, school.posy), start=1):
        place = school.booking(meeting, student, turn=number, turn_minutes=15)
        turns[place] = meeting.starts_at + timedelta(minutes=15 * (number - 1))
    next(iter(turns)).turn_early = Early.LEAVES
    ends_at = meeting.starts_at + timedelta(minutes=40)
    yield "agenda_published", notices.agenda_published(meeting, turns, ends_at=ends_at, now=LATER)
    Intake.objects.create(booking=next(iter(turns)), pieces="Study in G", written_at=NOW)
    meeting.listener_places = 2
    meeting.save()
    listener = school.booking(meeting, school.marlo, place_kind=PlaceKind.LISTENER)
    meeting.ends_at, meeting.sequence = meeting.starts_at + timedelta(minutes=110), 1
    yield (
        "agenda_lengthens",
        notices.agenda_lengthens(meeting, turns, [*turns, listener], now=LATER),
    )


def series(school: School) -> Told:
    """Two meetings for two children of a family; a student who is in the first one alone."""
    starts = ("2027-03-19T10:00Z", "2027-03-26T10:00Z")
    meetings = [
        school.meeting(school.circle, start, places=4, title="Ornaments") for start in starts
    ]
    places = [school.booking(one, child) for one in meetings for child in (school.posy, school.kit)]
    places.append(school.booking(meetings[0], school.noor))
    yield "booked_together", notices.places_booked(places, now=LATER)


def asked(school: School) -> Told:
    """A guardian of two is asked for their hours, and a student for their own, for a group."""
    juno = Student.objects.create(
        pk=school.key(), user=school.user("Juno Marsh", "America/New_York"), level=4, unit=2
    )
    plan = plan_row(school.circle, school.ilse, school.posy, pk=school.key())
    plan.answer_by, plan.asked["last_on"] = at("2027-03-02T18:00Z"), "2027-03-17"
    asked = [AskedHours(plan=plan, student=one) for one in (school.posy, school.kit, juno)]
    yield "hours_asked", notices.hours_asked(asked, now=NOW)
