"""People on the pages: added, changed, given and losing a role, and leaving; each page says before
what it does.
"""

import re

import pytest
from allauth.account.models import EmailAddress
from django.contrib import admin
from django.core import mail
from django.test import Client, RequestFactory

from accounts.models import Guardianship, Student, User, Welcome
from bookings.models import AuditRow, Booking, OutboxMessage
from bookings.operations.invitations import invite
from bookings.operations.subscriptions import open_feed
from tests.cast import NOW, PASSWORD, at, make_booking, make_meeting, make_user
from tests.functional.pages.school import School, as_user, text_of
from tests.school.addresses import secret_to


def account(user: object) -> str:
    return f"/people/accounts/{user.pk}/"  # type: ignore[attr-defined]


def take_address(school: School, user: User, email: str) -> None:
    """Another address by both pages: the admin's, and the one behind the link."""
    posted = as_user(school.dag).post(account(user) + "address/", {"email": email})
    assert posted.status_code == 302
    assert Client().post(f"/new-address/{secret_to(email.lower())}/").status_code == 302


def test_an_address_typed_with_capitals_signs_in(school: School) -> None:
    """Changed on the page; the person signs in with it in any spelling."""
    ida = make_user("Ida Quince", password=PASSWORD, email="ida@rowanmere.example")
    take_address(school, ida, "Ida.Quince@Rowanmere.Example")
    for spelt in ("ida.quince@rowanmere.example", "IDA.QUINCE@rowanmere.example"):
        form = {"login": spelt, "password": PASSWORD}
        assert Client().post("/accounts/login/", form).status_code == 302


def test_the_old_address_resets_no_password(school: School) -> None:
    """It did as long as it stood in the library's own table. The new one does."""
    ida = make_user("Ida Quince", password=PASSWORD, email="ida@rowanmere.example")
    EmailAddress.objects.create(user=ida, email=ida.email, verified=True, primary=True)
    take_address(school, ida, "new@rowanmere.example")
    for address in ("ida@rowanmere.example", "new@rowanmere.example"):
        Client().post("/accounts/password/reset/", {"email": address})
    resets = [message.to for message in mail.outbox if "/password/reset/key/" in message.body]
    waiting = OutboxMessage.objects.filter(body__contains="/password/reset/key/")
    reached = [*(to for (to,) in resets), *waiting.values_list("to_address", flat=True)]
    assert reached == ["new@rowanmere.example"]


def test_an_admin_changes_name_and_clock_of_an_account(school: School) -> None:
    """Kept; an empty name and an unknown zone come back beside their fields."""
    dags, page = as_user(school.dag), account(school.noor.user)
    assert dags.post(page, {"name": "", "time_zone": "Mars/Olympus"}).status_code == 422
    assert dags.post(page, {"name": "Noor A.", "time_zone": "Asia/Kathmandu"}).status_code == 302
    school.noor.user.refresh_from_db()
    assert (school.noor.user.name, school.noor.user.zone) == ("Noor A.", "Asia/Kathmandu")


def test_the_admin_role_is_given_and_taken_on_the_page(school: School) -> None:
    """By a button each; the only admin is told why it stays."""
    dag, role = as_user(school.dag), account(school.wren.user) + "admin/"
    dag.post(role, {"is_admin": "yes"})
    school.wren.user.refresh_from_db()
    assert as_user(school.wren.user).get("/people/").status_code == 200
    dag.post(role, {"is_admin": "no"})
    assert as_user(school.wren.user).get("/people/").status_code == 403
    answer = dag.post(account(school.dag) + "admin/", {"is_admin": "no"})
    assert answer.status_code == 409
    assert "is the only admin" in text_of(answer)


def test_a_mistyped_invitation_is_withdrawn(school: School) -> None:
    """Off the list, and its link opens nothing."""
    invite(actor=school.dag, email="tpyo@rowanmere.example", name="Ida", as_admin=True, now=NOW)
    link = re.search(r"/welcome/[\w-]+/", OutboxMessage.objects.latest("pk").body)
    dag = as_user(school.dag)
    assert "tpyo@rowanmere.example" in text_of(dag.get("/people/"))
    gone = dag.post(f"/people/invitations/{Welcome.objects.get().pk}/withdraw/", follow=True)
    assert "Withdrawn: the invitation to tpyo@rowanmere.example." in text_of(gone)
    assert "Invited, not joined yet" not in text_of(gone)
    assert link is not None
    assert Client().get(link[0]).status_code == 404


def test_a_student_is_added_and_changed(school: School) -> None:
    """Without an account the school notes name and clock; with one they are the account's."""
    dag = as_user(school.dag)
    typed = {"name": "Kit Fell", "level": 2, "unit": 1, "age": "minor", "adult_on": "2034-06-01"}
    typed |= {"time_zone": "Europe/Dublin"}
    added = dag.post("/people/students/new/", typed)
    kit = Student.objects.get(own_name="Kit Fell")
    assert added.url == f"/people/students/{kit.pk}/"
    dag.post(added.url, {**typed, "name": "Kit Marsh", "level": 3})
    kit.refresh_from_db()
    assert (kit.full_name, kit.level) == ("Kit Marsh", 3)
    page = text_of(dag.get(f"/people/students/{school.noor.pk}/"))
    assert 'name="name"' not in page
    verbs = AuditRow.objects.filter(thing="student").order_by("pk").values_list("verb", "fields")
    assert list(verbs) == [("added", []), ("changed", ["level", "own_name"])]
    assert dag.post("/people/students/new/", {**typed, "level": 11}).status_code == 422


def childs_lesson(school: School) -> Booking:
    return make_booking(
        make_meeting(school.consultation, school.wren, at("2027-03-12T09:30Z")), school.posy
    )


def test_a_removed_guardian_s_feed_is_empty_at_once(school: School) -> None:
    """A calendar that asks again with the tag of before gets the new bytes."""
    childs_lesson(school)
    _, secret = open_feed(actor=school.hedda, label="Phone", names_children=True, now=NOW)
    before = Client().get(f"/calendar/{secret}.ics")
    assert b"Posy" in before.content
    page = f"/people/guardians/{school.posy.guardianships.get().pk}/remove/"
    dag = as_user(school.dag)
    assert "This will be cancelled too" in text_of(dag.get(page))
    assert dag.post(page).status_code == 409
    assert dag.post(page, {"why": "The family moves away."}).status_code == 302
    after = Client().get(f"/calendar/{secret}.ics", headers={"If-None-Match": before["ETag"]})
    assert after.status_code == 200
    assert b"Posy" not in after.content
    assert as_user(school.hedda).get("/me/").status_code == 200


def test_consent_is_taken_back_on_the_guardian_s_page(school: School) -> None:
    """What ends is read first, and confirmed; the lesson is called off with nothing to pay."""
    booking = childs_lesson(school)
    hedda, row = as_user(school.hedda), school.posy.guardianships.get()
    page = f"/me/consents/{row.pk}/withdraw/"
    assert page in text_of(hedda.get("/me/"))
    shown = text_of(hedda.get(page))
    assert "Posy: Consultation with Wren Halloway" in shown
    assert "You will not be charged" in shown
    assert hedda.post(page).status_code == 409
    row.refresh_from_db()
    assert row.consent_at is not None
    assert hedda.post(page, {"end": "yes"}, follow=True).status_code == 200
    row.refresh_from_db()
    booking.refresh_from_db()
    assert (row.consent_at, booking.ended_why) == (None, "called-off")
    assert "no consent of yours is on file" in text_of(hedda.get("/me/"))


def test_an_account_is_closed_and_opened_again(school: School) -> None:
    """The page names the lesson that ends with it; afterwards the person is on the list of those
    who left.
    """
    dag, page = as_user(school.dag), account(school.noor.user) + "close/"
    assert "Consultation with Ilse Quarrow" in text_of(dag.get(page))
    assert dag.post(page).status_code == 409
    dag.post(page, {"why": "Noor has finished the course."})
    school.booking.refresh_from_db()
    assert school.booking.standing == "ENDED"
    for show, is_there in (("students", False), ("left", True), ("closed", True)):
        listed = text_of(dag.get("/people/", {"show": show})).partition("<h2>")[2]
        assert ("Noor Ashgrove" in listed) == is_there, show
    assert dag.get(f"/times/?student={school.noor.pk}").status_code == 200
    dag.post(account(school.noor.user) + "reopen/")
    school.noor.user.refresh_from_db()
    assert as_user(school.noor.user).get("/me/").status_code == 200


def test_an_instructor_is_dismissed_and_teaches_again(school: School) -> None:
    """The meetings ahead are named before, and the person is an instructor again after."""
    dag, page = as_user(school.dag), account(school.ilse.user)
    assert "Placing without looking" in text_of(dag.get(page + "dismiss/"))
    dag.post(page + "dismiss/", {"why": "Ilse moves on."})
    school.ilse.refresh_from_db()
    assert not school.ilse.is_active
    dag.post(page + "teach-again/")
    school.ilse.refresh_from_db()
    assert school.ilse.is_active


def test_a_child_leaves_the_school_and_comes_back(school: School) -> None:
    """The brother's guardian keeps the account."""
    dag, page = as_user(school.dag), f"/people/students/{school.posy.pk}/"
    childs_lesson(school)
    dag.post(page + "leave/", {"why": "Posy plays the piano now."})
    assert "Has left the school" in text_of(dag.get(page))
    dag.post(page + "return/")
    assert Student.objects.get(pk=school.posy.pk).is_active
    assert Guardianship.objects.count() == 1


def test_no_table_of_people_has_a_form_in_the_office(school: School, rf: RequestFactory) -> None:
    """Walks what the office shows, with its inlines, so that a new table of people cannot be
    written there.
    """
    request = rf.get("/office/")
    request.user = school.dag
    tables = [table for table in admin.site._registry.values() if is_of_people(table)]
    tables += [
        inline
        for table in admin.site._registry.values()
        for inline in table.get_inline_instances(request)
        if is_of_people(inline)
    ]
    assert len(tables) == 4
    for table in tables:
        for verb in ("add", "change", "delete"):
            assert not getattr(table, f"has_{verb}_permission")(request, None), (table, verb)


def is_of_people(table: admin.options.BaseModelAdmin) -> bool:
    return table.model._meta.app_label == "accounts"


@pytest.mark.parametrize("table", ["user", "instructor", "student"])
def test_the_office_has_no_form_that_writes_a_person(school: School, table: str) -> None:
    """A bare save passes by the rules, the audit and the emails: the office leads to the page
    instead.
    """
    dag, place = as_user(school.dag), f"/office/accounts/{table}/"
    listed = text_of(dag.get(place))
    row = re.search(rf"{place}(\d+)/change/", listed)
    assert row is not None
    assert re.search(r'href="/people/(accounts|students)/\d+/"', listed)
    assert 'name="_save"' not in text_of(dag.get(row[0]))
    assert dag.post(row[0], {"name": "Somebody Else"}).status_code == 403
    assert dag.get(f"{place}add/").status_code == 403
    assert dag.post(f"{place}{row[1]}/delete/", {"post": "yes"}).status_code == 403


def test_a_page_of_an_account_that_has_changed_changes_nothing(school: School) -> None:
    """The old page names nobody anew and closes nothing; it comes back as the account is now."""
    dags, noor = as_user(school.dag), school.noor.user
    pages = account(noor), account(noor) + "close/"
    seen = [re.findall(r'name="seen" value="(\w+)"', text_of(dags.get(page)))[0] for page in pages]
    typed = {"name": "Noor A.", "time_zone": noor.zone}
    assert dags.post(pages[0], {**typed, "seen": seen[0]}).status_code == 302
    typed["name"] = "Noor B."
    for page, old in zip(pages, seen, strict=True):
        refused = dags.post(page, {**typed, "why": "They move on.", "seen": old})
        assert refused.status_code == 412
        assert "The account of Noor A. has changed since you read it" in text_of(refused)
    noor.refresh_from_db()
    assert (noor.name, noor.is_active) == ("Noor A.", True)
