"""Every page that a GET shows, and who reads it."""

from collections.abc import Iterator
from datetime import timedelta

from django.db import connection
from django.test import Client

from bookings.models import (
    BusyCalendar,
    DaysAway,
    ExtraHours,
    Feed,
    MoveRequest,
)
from tests.cast import NOW, make_assessment, make_booking, make_meeting
from tests.functional.pages.every_data import data_pages
from tests.functional.pages.every_plan import owed_pages, plan_pages, weekly_pages
from tests.functional.pages.every_program import program_pages
from tests.functional.pages.every_statement import statement_pages
from tests.functional.pages.matrix_people import people_pages
from tests.functional.pages.school import School, as_user
from tests.functional.pages.school_pages import school_pages
from tests.school.exchanges import open_exchange
from tests.school.masterclasses import masterclass_place
from tests.school.plans import answered_who_next
from tests.school.proposals import proposed_time
from tests.school.weekly import weekly_place


def pages_of(school: School) -> Iterator[tuple[str, Client, str]]:
    """(who, their browser, address) for every page that a GET shows."""
    held = make_booking(school.circle, school.noor)
    plan = [
        {"what": f"Study {part}", "minutes": 5 * part, "is_review": part > 3}
        for part in range(1, 7)
    ]
    note = make_assessment(
        school.noor,
        school.ilse,
        state="released",
        released_at=NOW,
        caution="Rest often.",
        level=5,
        practice=plan,
    )
    note.ticks.create(item=0, on=NOW.date(), ticked_at=NOW)
    proposed = proposed_time(school.ilse, school.noor, school.consultation)
    one, meeting = school.booking.pk, school.booking.meeting_id
    off = school.called_off()
    over = make_booking(
        make_meeting(school.consultation, school.ilse, NOW - timedelta(days=3, hours=4)),
        school.noor,
    )
    gathered = make_meeting(school.group, school.ilse, NOW - timedelta(days=4, hours=4), places=3)
    make_booking(gathered, school.noor)
    taught = {"instructor": school.ilse, "time_zone": "Europe/Dublin"}
    extra = ExtraHours.objects.create(**taught, on=NOW.date(), opens=600, closes=660)
    away = DaysAway.objects.create(
        **taught, first_on=NOW.date(), last_on=NOW.date(), called_off_at=off.changed_at
    )
    book = (
        f"/times/book/?offering={school.consultation.pk}&instructor={school.ilse.pk}&"
        "starts_at=2027-03-15T16:00:00Z"
    )
    move = f"/my-lessons/{one}/move/?instructor={school.ilse.pk}&starts_at=2027-03-15T16:00:00Z"
    lessons = [f"/my-lessons/{one}/{page}/" for page in ("cancel", "move", "ask", "intake")]
    why = book.replace("/book/", "/why/") + "&on=2027-03-13"
    family = [
        "/times/",
        why,
        book,
        book.replace("-15T", "-12T"),
        "/my-lessons/",
        "/practice/",
        "/hours-to-come/",
        move,
        *lessons,
        f"/my-lessons/{held.pk}/change/",
        f"/my-lessons/{one}/decline/",
        f"/proposed-times/{proposed.proposed_id}/",
        f"/students/{school.noor.pk}/data/",
        f"/students/{school.noor.pk}/data/erase/",
    ]
    feed = Feed.objects.create(
        owner=school.noor.user, label="Phone", secret_digest="x", revised_at=NOW, opened_at=NOW
    )
    busy = BusyCalendar.objects.create(owner=school.noor.user, name="Orchestra", added_at=NOW)
    asked_for = NOW + timedelta(days=9)
    asked = MoveRequest.objects.create(
        booking=school.booking,
        asked_by=school.noor.user,
        starts_at=asked_for,
        sequence=0,
        asked_at=NOW,
    )
    place = weekly_place(school.ilse, school.noor)
    exchange = open_exchange(place, school.marlo)
    family += [*weekly_pages(place, exchange), *owed_pages(place)]
    own = [
        "/meetings/",
        "/calendars/",
        "/busy-calendars/",
        "/me/",
        "/accounts/logout/",
        "/accounts/password/change/",
        "/accounts/2fa/",
    ]
    teaching = [
        "/today/",
        "/today/?on=2027-03-12",
        "/today/briefs/?on=2027-03-12",
        "/hours/",
        "/hours/clear/",
        f"/hours/clear/propose/?meetings={off.pk},{one}",
        "/hours/allowed/",
        f"/hours/extra/{extra.pk}/remove/",
        f"/hours/away/{away.pk}/remove/",
        f"/hours/away/reinstate/?meetings={off.pk},{school.circle.pk}",
        f"/wrap-up/{over.pk}/",
        f"/wrap-up/{over.pk}/?weeks=2",
        f"/wrap-up/{over.pk}/release/?next=book:2027-03-26T12:00:00Z",
        f"/wrap-up/meetings/{gathered.pk}/",
        f"/wrap-up/meetings/{gathered.pk}/release/",
        f"/brief/{one}/",
        f"/brief/{one}/assessment/",
        f"/assessments/{note.pk}/",
        f"/assessments/{note.pk}/write/",
        f"/students/{school.noor.pk}/notes/",
        f"/assessments/{make_assessment(school.noor, school.ilse).pk}/release/",
        f"/meetings/{meeting}/call-off/",
        f"/meetings/{school.circle.pk}/change/",
        f"/meetings/{school.circle.pk}/minimum/",
        f"/meetings/{school.circle.pk}/duplicate/",
        f"/meetings/{school.circle.pk}/reinstate/",
        f"/meetings/{off.pk}/reinstate/",
        f"/meetings/{off.pk}/",
        f"/meetings/{school.circle.pk}/sheet/",
        f"/meetings/{gathered.pk}/",
        f"/meetings/{gathered.pk}/sheet/",
        "/move-requests/",
        "/my-students/",
        "/my-students/?show=no-lesson&level=9",
        "/due-a-review/",
        f"/move-requests/{asked.pk}/propose/",
        "/proposed-times/",
        f"/students/{school.noor.pk}/propose/?since=2027-03-12",
        f"/proposed-times/{proposed.proposed_id}/",
        move,
        move.partition("?")[0],
        f"{book}&student={school.noor.pk}",
    ]
    row = school.posy.guardianships.get()
    barred = school.noor.guardianships.create(
        guardian=school.marlo.user, barred_at=NOW, barred_by=school.dag, barred_why="See the file."
    )
    who_next = answered_who_next(school.consultation, school.ilse, school.noor, school.posy).pk
    played = masterclass_place(school.ilse, school.noor, turn=1)
    issuing, statements = statement_pages(school)
    agenda = f"/meetings/{played.meeting_id}/agenda/"
    office = [
        "/needs/",
        "/needs/move-request/",
        "/needs/offer/",
        "/today/all/?on=2027-03-12",
        *plan_pages(school, place, exchange),
        f"/people/students/{school.posy.pk}/",
        f"/people/students/{school.noor.pk}/leave/",
        f"/people/guardians/{row.pk}/remove/",
        f"/people/guardians/{row.pk}/bar/",
        f"/people/guardians/{barred.pk}/lift/",
        f"/people/accounts/{school.ilse.user_id}/",
        f"/people/accounts/{school.ilse.user_id}/close/",
        f"/people/accounts/{school.ilse.user_id}/dismiss/",
        f"/people/accounts/{school.ilse.user_id}/second-factor/",
        f"/students/{school.noor.pk}/notes/",
        *data_pages(school),
        *people_pages(school),
        *issuing,
        *school_pages(school, place.term_id),
        *program_pages(school),
        f"/hours/?instructor={school.ilse.pk}",
        f"/times/?student={school.posy.pk}",
        f"/hours-to-come/?student={school.posy.pk}",
    ]
    everybodys = [
        "/accounts/login/",
        "/accounts/password/reset/",
        "/accounts/password/reset/done/",
        "/accounts/signup/",
        "/nothing/",
    ]
    run = [f"/meetings/{school.circle.pk}/", agenda, f"/plans/{who_next}/"]
    by_whom = [
        ("stranger", None, everybodys),
        (
            "student",
            school.noor.user,
            [
                *family,
                *own,
                f"/calendars/{feed.pk}/renew/",
                f"/calendars/{feed.pk}/revoke/",
                f"/busy-calendars/{busy.pk}/remove/",
                f"/assessments/{note.pk}/",
                f"/students/{school.noor.pk}/notes/",
                f"/meetings/{school.circle.pk}/",
                agenda,
                f"/my-lessons/{played.pk}/leaves-by/",
                "/people/",
            ],
        ),
        (
            "guardian",
            school.hedda,
            [
                f"/me/consents/{row.pk}/withdraw/",
                "/me/",
                "/busy-calendars/",
                "/times/",
                "/weekly/",
                "/my-lessons/",
                "/practice/",
                "/hours-to-come/",
                "/meetings/",
            ],
        ),
        ("instructor", school.ilse.user, [*teaching, *statements, *own, *run]),
        ("foreign instructor", school.wren.user, ["/cover/"]),
        ("admin", school.dag, [*office, *own, *run]),
    ]
    for who, user, addresses in by_whom:
        client = as_user(user)
        for address in addresses:
            yield who, client, address


def counts() -> dict[str, int]:
    """Rows of every table but sessions and the log of who read what, which reading writes."""
    with connection.cursor() as cursor:
        tables = [
            name
            for name in connection.introspection.table_names()
            if name not in ("django_session", "bookings_assessmentreading")
        ]
        found = {}
        for name in tables:
            cursor.execute(f'SELECT COUNT(*) FROM "{name}"')
            found[name] = cursor.fetchone()[0]
    return found
