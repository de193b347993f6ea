"""Invitations, consents and students who leave, over the API."""

from accounts.models import Guardianship, Welcome
from bookings.models import Booking, OutboxMessage
from tests import cast
from tests.functional.api.client import Api
from tests.functional.api.school import FOR_POSY, School


def asked(**changes: object) -> dict[str, object]:
    return {"name": "Ida Quince", "email": "Ida@Rowanmere.Example", "role": "admin", **changes}


def test_an_admin_invites_and_withdraws(school: School) -> None:
    """Listed while it is open; its address is kept in lower case, and its secret is in the email
    alone.
    """
    dag = Api(school.dag)
    made = dag.post("invitations/", asked())
    assert (made.status, made.json["email"], made.json["student"]) == (
        201,
        "ida@rowanmere.example",
        None,
    )
    listed = dag.get("invitations/").json["results"]
    assert [row["id"] for row in listed] == [made.json["id"]]
    secret = OutboxMessage.objects.get().body.split("/welcome/")[1].split("/")[0]
    assert secret.encode() not in made.body
    assert dag.delete(f"invitations/{made.json['id']}/").status == 204
    assert dag.get("invitations/").json["results"] == []
    again = dag.delete(f"invitations/{made.json['id']}/")
    assert (again.status, again.code) == (409, "already-ended")


def test_a_new_invitation_replaces_one_to_a_mistyped_address(school: School) -> None:
    """The same name in the same role: one link is open."""
    dag = Api(school.dag)
    dag.post("invitations/", asked(email="iad@rowanmere.example"))
    right = dag.post("invitations/", asked()).json["id"]
    assert [row["id"] for row in dag.get("invitations/").json["results"]] == [right]


def test_a_guardian_is_invited_for_a_student(school: School) -> None:
    """The student is named for that role, and for no other."""
    dag = Api(school.dag)
    made = dag.post("invitations/", asked(role="guardian", student=school.posy.pk))
    assert made.json["student"] == {"id": school.posy.pk, "name": "Posy Lindqvist-Reed"}
    for wrong in (asked(role="guardian"), asked(student=school.posy.pk)):
        reply = dag.post("invitations/", wrong)
        assert (reply.status, reply.json["errors"][0]["pointer"]) == (422, "#/student")


def test_an_address_that_no_mail_reaches_is_refused(school: School) -> None:
    """A label that is longer than DNS allows once it is written in ASCII (RFC 5890 section
    2.3.2.1).
    """
    reply = Api(school.dag).post("invitations/", asked(email=f"ida@{'ü' * 60}.example"))
    assert reply.status == 422
    assert not Welcome.objects.exists()


def test_a_guardian_takes_a_consent_back(school: School) -> None:
    """What ends is listed first; a version that was read is asked for; then it ends, and nothing
    can be booked.
    """
    hedda = Api(school.hedda)
    school.booked(school.hedda, student=school.posy.pk, starts_at=FOR_POSY.isoformat())
    (row,) = hedda.get("consents/").json["results"]
    assert (row["student"]["id"], row["wording"]) == (school.posy.pk, "2026-11")
    path = f"consents/{row['id']}/"
    tag = hedda.get(path).headers["ETag"]
    assert hedda.post(path + "withdraw/", {}, match='"consent-0-0"').status == 412
    refused = hedda.post(path + "withdraw/", {}, match=tag)
    assert (refused.status, refused.code) == (409, "has-bookings")
    assert [one["id"] for one in refused.json["bookings"]] == [Booking.objects.get().pk]
    done = hedda.post(path + "withdraw/", {"end_bookings": True}, match=tag)
    assert (done.status, done.json["given_at"], done.json["wording"]) == (200, None, None)
    assert Booking.objects.get().ended_why == "called-off"
    again = hedda.post(path + "withdraw/", {}, match="*")
    assert (again.status, again.code) == (409, "already-ended")
    slot = school.slot(student=school.posy.pk, starts_at=FOR_POSY.isoformat())
    assert hedda.post("bookings/", slot).code == "consent-missing"


def test_a_removed_guardian_reaches_nothing_of_the_child(school: School) -> None:
    """Not the booking, not the consent, not the student; the account goes on.

    Source: OWASP ASVS 5.0.0, V8.3.2.
    """
    other = cast.make_user("Orsola Reed")
    Guardianship.objects.create(
        guardian=other, student=school.posy, consent_at=cast.NOW, consent_wording="2026-11"
    )
    booked = school.booked(other, student=school.posy.pk, starts_at=FOR_POSY.isoformat())
    row = Guardianship.objects.get(guardian=other)
    row.delete()
    gone = Api(other)
    for path in (f"bookings/{booked['id']}/", f"consents/{row.pk}/"):
        assert gone.get(path).status == 404
    assert gone.get("me/").json["students"] == []


def test_a_student_leaves_the_school(school: School) -> None:
    """Bookings ahead are listed until a reason is given; then nothing can be booked for them."""
    booked = school.booked()
    dag, path = Api(school.dag), f"students/{school.noor.pk}/leave/"
    refused = dag.post(path, {})
    assert [one["id"] for one in refused.json["bookings"]] == [booked["id"]]
    left = dag.post(path, {"reason": "Noor moves on."})
    assert [one["id"] for one in left.json["bookings"]] == [booked["id"]]
    assert left.json["weekly_places"] == []
    again = Api(school.noor.user).post("bookings/", school.slot())
    assert (again.status, again.code) == (409, "already-ended")
