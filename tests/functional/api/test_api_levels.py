"""The question after a release at another level, and its answer, over the API."""

from tests import cast
from tests.functional.api.client import Api
from tests.functional.api.school import School


def draft_at(school: School, level: int) -> str:
    cast.taught(school.ilse, school.noor, school.consultation)
    note = cast.make_assessment(school.noor, school.ilse, level=level)
    return f"assessments/{note.pk}/"


def test_a_release_at_another_level_asks_and_one_act_answers(school: School) -> None:
    """The answer to the release says what the record says; moving it is a second call, bound to
    what was read.
    """
    ilse, path = Api(school.ilse.user), draft_at(school, 5)
    assert ilse.get(path).json["record"] == {"level": 4, "unit": 2, "differs": False}
    released = ilse.post(f"{path}release/", match=ilse.etag(path))
    assert released.json["record"] == {"level": 4, "unit": 2, "differs": True}
    moved = ilse.post(f"{path}adopt-level/", match=released.etag)
    assert moved.status == 200
    assert moved.json["record"] == {"level": 5, "unit": 2, "differs": False}
    assert moved.etag != released.etag
    assert Api(school.noor.user).get("me/").json["students"][0]["level"] == 5
    assert ilse.post(f"{path}adopt-level/", match=moved.etag).code == "already-done"


def test_a_release_at_the_same_level_asks_nothing(school: School) -> None:
    """Nothing differs."""
    ilse, path = Api(school.ilse.user), draft_at(school, 4)
    released = ilse.post(f"{path}release/", match="*")
    assert not released.json["record"]["differs"]


def test_a_record_moved_meanwhile_is_read_first(school: School) -> None:
    """The tag of a note covers the record: whoever read another one is told so."""
    ilse, path = Api(school.ilse.user), draft_at(school, 5)
    read = ilse.post(f"{path}release/", match="*").etag
    school.noor.level = 6
    school.noor.save()
    assert ilse.post(f"{path}adopt-level/", match=read).status == 412
    assert ilse.post(f"{path}adopt-level/").status == 428


def test_the_record_is_not_the_students_view(school: School) -> None:
    """The question is the instructor's; the student reads the note without it."""
    path = draft_at(school, 5)
    Api(school.ilse.user).post(f"{path}release/", match="*")
    noor = Api(school.noor.user)
    assert "record" not in noor.get(f"students/{school.noor.pk}/assessments/latest/").json
