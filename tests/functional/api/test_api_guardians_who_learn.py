"""A guardian who is a student too, over the API."""

from accounts.models import Guardianship, Student
from tests.functional.api.client import Api, snapshot
from tests.functional.api.school import School


def test_a_guardian_who_learns_is_not_made_a_minor(school: School) -> None:
    """Nobody gives consent for themselves. Once they guard nobody, the record can be put right."""
    learner = Student.objects.create(user=school.hedda, level=4)
    dag = Api(school.dag)
    path, before = f"students/{learner.pk}/", snapshot()
    refused = dag.patch(path, {"adult_on": "2030-05-04"}, match="*")
    assert (refused.status, refused.code) == (403, "not-allowed")
    assert refused.json["detail"] == (
        "This student is a guardian of Posy, and a guardian is an adult. First remove them as a "
        "guardian, on the page of each child; then make them a minor."
    )
    assert snapshot() == before
    # A date of coming of age that is over makes nobody a minor.
    assert dag.patch(path, {"adult_on": "2020-05-04"}, match="*").status == 200
    Guardianship.objects.filter(guardian=school.hedda).delete()
    assert dag.patch(path, {"adult_on": "2030-05-04"}, match="*").json["minor"] is True
