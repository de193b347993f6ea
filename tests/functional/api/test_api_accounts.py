"""Tokens, who one is, and whom one may act for."""

from tests import cast
from tests.functional.api.client import Api
from tests.functional.api.noor import noor
from tests.functional.api.school import School

__all__ = ["noor"]


def test_a_token_opens_the_api_until_it_is_given_back(school: School) -> None:
    """Signing in with address and password gives a token that works as Bearer; after signing out it
    is unknown.
    """
    user = cast.make_user("Imogen Sorrel", "Europe/Dublin", password=cast.PASSWORD)
    signed = Api().post("tokens/", {"email": user.email.upper(), "password": cast.PASSWORD})
    assert signed.status == 201
    bearer = {"headers": {"Authorization": f"Bearer {signed.json['token']}"}}
    assert Api().get("me/", **bearer).json["name"] == "Imogen Sorrel"
    assert Api().delete("tokens/current/", **bearer).status == 204
    assert Api().get("me/", **bearer).code == "not-signed-in"


def test_unknown_addresses_and_wrong_passwords_are_answered_alike(school: School) -> None:
    """Whoever tries addresses learns nothing: the two answers have the same bytes."""
    user = cast.make_user("Imogen Sorrel", "Europe/Dublin", password=cast.PASSWORD)
    wrong = Api().post("tokens/", {"email": user.email, "password": "not-the-one"})
    unknown = Api().post(
        "tokens/", {"email": "nobody@rowanmere.example", "password": "not-the-one"}
    )
    assert (wrong.status, wrong.body) == (unknown.status, unknown.body)
    assert wrong.status == 401


def test_instructors_need_a_second_factor_where_it_is_required(school: School, settings) -> None:
    """In production a password alone does not open the API to an instructor, as it does not open
    the pages.
    """
    settings.SECOND_FACTOR_REQUIRED = True
    bram = cast.make_instructor("Bram Tolliver", "Australia/Lord_Howe", password=cast.PASSWORD)
    assert (
        Api().post("tokens/", {"email": bram.user.email, "password": cast.PASSWORD}).code
        == "not-allowed"
    )


def test_me_says_the_roles_and_whom_one_may_act_for(school: School, noor: Api) -> None:
    """A student acts for themselves, a guardian for their child; an instructor finds the id to
    name.
    """
    assert noor.get("me/").json["roles"] == ["student"]
    hedda = Api(school.hedda).get("me/").json
    assert (hedda["roles"], [student["name"] for student in hedda["students"]]) == (
        ["guardian"],
        ["Posy Lindqvist-Reed"],
    )
    assert Api(school.ilse.user).get("me/").json["instructor"]["id"] == school.ilse.pk
    assert (
        noor.patch("me/", {"time_zone": "Asia/Kathmandu"}, match=noor.etag("me/")).json["time_zone"]
        == "Asia/Kathmandu"
    )
