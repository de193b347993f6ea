"""An answer holds for what the question showed, and for nothing that came after it."""

import re

from bookings.models import Booking, Meeting, ProposedTimes, WeeklyPlace
from tests.cast import NOW, make_booking
from tests.functional.pages.every_page import counts
from tests.functional.pages.school import School, as_user, text_of
from tests.school.proposals import proposed_time
from tests.school.weekly import weekly_place


def test_a_question_is_answered_for_the_state_that_it_showed(school: School) -> None:
    """Between the page and the button a lesson moves, or somebody joins: 412, and nothing changes.
    Then the page shows the new state, and its button works.
    """
    Booking.objects.filter(pk=school.booking.pk).update(decline_by=school.booking.starts_at)
    held = make_booking(school.circle, school.noor)
    proposal = ProposedTimes.objects.get(
        pk=proposed_time(school.ilse, school.noor, school.consultation).proposed_id
    )
    place = weekly_place(school.ilse, school.noor)
    noor, ilse = as_user(school.noor.user), as_user(school.ilse.user)
    asked = [
        (noor, f"/my-lessons/{school.booking.pk}/decline/", Booking, school.booking.pk),
        (noor, f"/my-lessons/{held.pk}/change/", Booking, held.pk),
        (ilse, f"/meetings/{school.circle.pk}/call-off/", Meeting, school.circle.pk),
        (ilse, f"/proposed-times/{proposal.pk}/withdraw/", ProposedTimes, proposal.pk),
        (noor, f"/weekly/{place.pk}/leave/", WeeklyPlace, place.pk),
        (noor, f"/weekly/{place.pk}/move/", WeeklyPlace, place.pk),
    ]
    for browser, address, table, pk in asked:
        page = text_of(browser.get(address))
        shown = re.findall(r'name="version" value="(\d+)"', page)
        row = table._default_manager.get(pk=pk)
        has_form = "<button>" in page  # a page without another meeting to choose has none
        assert set(shown) == ({str(row.version)} if has_form else set()), address
        row.version += 1
        row.save(update_fields=["version"])
        typed = {"version": str(row.version - 1), "why": "", "meeting": school.circle.pk}
        before = counts()
        answer = browser.post(address, {**typed, "to": "1-1020"})
        assert answer.status_code == 412, (address, text_of(answer))
        assert counts() == before
    decline = asked[0][1]
    assert noor.post(decline, {"version": str(Booking.objects.get(pk=asked[0][3]).version)})
    assert Booking.objects.get(pk=school.booking.pk).ended_at == NOW
