"""A new email address on the pages: noted by an admin, confirmed by its link, withdrawn."""

from django.test import Client

from accounts.models import User
from tests.functional.pages.school import School, as_user, text_of
from tests.school.addresses import secret_to


def account(user: User | None) -> str:
    return f"/people/accounts/{user.pk}/"  # type: ignore[union-attr]


def test_another_address_signs_its_person_out_and_nobody_else(school: School) -> None:
    """Once it is confirmed, an admin's own too; until then nothing has changed."""
    noors, dags = as_user(school.noor.user), as_user(school.dag)
    noted = dags.post(account(school.noor.user) + "address/", {"email": "n@rowanmere.example"})
    assert noted.status_code == 302
    assert noors.get("/me/").status_code == 200
    link = f"/new-address/{secret_to('n@rowanmere.example')}/"
    assert "Use n@rowanmere.example from now on?" in text_of(Client().get(link))
    assert noors.get("/me/").status_code == 200
    assert Client().post(link).url == "/accounts/login/"
    assert noors.get("/me/").status_code == 302
    assert dags.get("/me/").status_code == 200
    assert Client().get(link).status_code == 404


def test_an_address_that_waits_is_shown_and_withdrawn(school: School) -> None:
    """By the admin who has mistyped it; a bad one comes back as it was typed."""
    dags, page = as_user(school.dag), account(school.noor.user)
    for typed in ("nobody", "", school.hedda.email, school.noor.user.email):
        answer = dags.post(page + "address/", {"email": typed})
        assert answer.status_code in (409, 422)
        assert f'value="{typed}"' in text_of(answer) or not typed
    dags.post(page + "address/", {"email": "tpyo@rowanmere.example"})
    link = f"/new-address/{secret_to('tpyo@rowanmere.example')}/"
    assert "tpyo@rowanmere.example" in text_of(dags.get(page))
    dags.post(page + "address/withdraw/")
    assert "tpyo@rowanmere.example" not in text_of(dags.get(page))
    assert Client().post(link).status_code == 404
    assert dags.post(page + "address/withdraw/").status_code == 409
