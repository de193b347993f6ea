"""The words of consent are the school's own, in versions, with the hours of the policy in force."""

from datetime import timedelta

import pytest

from bookings.domain.consent import DEFAULT, sentences_of
from bookings.domain.errors import Refused
from bookings.door import write
from bookings.models import AuditRow, ConsentText, OutboxMessage, StudioPolicy
from bookings.operations.consents import ask_for_consent, give_consent, publish_wording
from bookings.queries.consents import wording_about, wording_in_force
from tests import cast
from tests.cast import NOW

pytestmark = pytest.mark.django_db
OURS = "Lessons are live, from {opens} to {closes} for {child}.\n\n  {school} records nothing. "


@pytest.fixture
def dag():
    cast.make_policy()
    return cast.make_admin()


def publish(dag, version="2027-03", text=OURS, now=NOW):
    act = publish_wording
    return write(lambda: act(actor=dag, version=version, text=text, now=now), now=now)


def secret_of(student) -> str:
    ask_for_consent(student_id=student.pk, now=NOW)
    message = OutboxMessage.objects.filter(kind="consent").latest("pk")
    return message.body.split("/consent/")[1].split("/")[0]


def test_a_school_without_words_of_its_own_asks_with_the_built_in_ones(dag):
    """Under the version that the setting names; every place in them is filled."""
    posy = cast.make_minor()
    assert wording_in_force(NOW).version == "2026-11"
    wording = wording_about(posy, now=NOW)
    assert len(wording.sentences) == len(DEFAULT)
    assert "between 08:00 and 21:00 on Posy’s own clock" in wording.sentences[0]
    assert "{" not in "".join(wording.sentences)


def test_the_hours_are_those_of_the_policy_in_force(dag):
    """A new policy changes them without a new wording."""
    StudioPolicy.objects.create(
        version=2, in_force_from=NOW, minor_opens=9 * 60 + 30, minor_closes=20 * 60
    )
    wording = wording_about(cast.make_minor(), now=NOW)
    assert "between 09:30 and 20:00" in wording.sentences[0]


def test_the_school_s_own_words_replace_them(dag):
    """The newest version is in force from when it was published, on record."""
    publish(dag)
    wording = wording_about(cast.make_minor(), now=NOW)
    assert wording.version == "2027-03"
    assert wording.sentences == (
        "Lessons are live, from 08:00 to 21:00 for Posy.",
        "Rowanmere Online Harp School records nothing.",
    )
    assert AuditRow.objects.get(verb="published wording").thing == "consenttext"


@pytest.mark.parametrize(
    "text", ["", " \n ", "For {parent}.", "Open {", "{child.name}", "{0}", "{}", "{child!r}"]
)
def test_a_text_with_an_unknown_place_is_refused(text):
    """Found when it is published, not when a guardian reads it."""
    with pytest.raises(Refused) as caught:
        sentences_of(text)
    assert caught.value.data["field"] == "text"


@pytest.mark.parametrize("version", ["", "2026-11", "2027-03", "x" * 21])
def test_a_version_names_one_text(dag, version):
    """What a guardian agreed to must be found again."""
    publish(dag)
    with pytest.raises(Refused) as caught:
        publish(dag, version=version)
    assert caught.value.data["field"] == "version"
    assert ConsentText.objects.count() == 1


def test_a_guardian_agrees_to_the_words_that_were_shown(dag):
    """Opened before, sent after a new wording: refused, and the new one is read first."""
    posy = cast.make_minor(consent=False)
    secret = secret_of(posy)
    publish(dag, now=NOW + timedelta(minutes=1))
    later = NOW + timedelta(minutes=2)
    with pytest.raises(Refused) as caught:
        give_consent(secret=secret, wording="2026-11", now=later)
    assert caught.value.code == "stale"
    assert give_consent(secret=secret, wording="2027-03", now=later).consent_wording == "2027-03"


def test_a_new_wording_is_asked_for_anew_where_none_was_given(dag):
    """A guardian who has not answered gets the new form; one who has consented is left alone."""
    cast.make_minor("Kit Fell", guardian=cast.make_user("Ines Fell"))
    posy = cast.make_minor(consent=False)
    first = secret_of(posy)
    publish(dag)
    assert secret_of(posy) != first
    assert OutboxMessage.objects.filter(kind="consent").count() == 2


def test_only_an_admin_publishes_the_wording(dag):
    """The operation asks."""
    with pytest.raises(Refused) as caught:
        publish(cast.make_student().user)
    assert caught.value.code == "not-allowed"
