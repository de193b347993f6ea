"""Somebody with a browser without JavaScript: they follow the links and send the forms that the
page in front of them shows, and nothing else.
"""

import re
from typing import Any
from urllib.parse import urljoin, urlsplit

from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import QueryDict
from django.test import Client

from tests.cast import PASSWORD
from tests.functional.pages.as_rendered import Button, Element, Form, read


class Visitor:
    """One person at one browser. `page` is what they see, `at` is its address."""

    def __init__(self) -> None:
        self.client = Client(enforce_csrf_checks=True)
        self.page, self.at, self.html = read(""), "/", ""

    def open(self, address: str) -> str:
        """The words of a page that opens, as after typing its address or pressing a link."""
        response = self.client.get(address, follow=True)
        return self._see(response, address)

    def follow(self, words: str, under: str = "") -> str:
        """The page behind the link that is called so, as it is seen or as it is read aloud; of
        several, the one in the section or the row that says `under`.
        """
        main = next(self.page.all("main"), self.page)
        rows = [one for one in main.all("section", "li", "tr") if under in one.words]
        scopes = rows if under else [main, self.page]
        for scope in sorted(scopes, key=lambda one: len(one.words)):
            named = [one for one in scope.all("a") if words in (one.words, one.shown)]
            found = {one.held["href"] for one in named}
            if found:
                assert len(found) == 1, f"{len(found)} links “{words}” on {self.at}"
                return self.open(urljoin(self.at, found.pop()))
        raise AssertionError(f"no link “{words}” on {self.at}: {self.links('')}")

    def send(self, words: str, said: dict[str, object] | None = None) -> str:
        """The page after pressing the button that is called so, with these fields written."""
        form, button = self._form_with(words)
        for label, text in (said or {}).items():
            form.fill(label, text)
        assert form.stops_at() == [], f"a browser stops at {form.stops_at()} on {self.at}"
        return self._submit(form, button)

    def upload(self, words: str, content: bytes, said: str) -> str:
        """The page after choosing a file in the field `said` and pressing the button."""
        form, button = self._form_with(words)
        name = form.fields[said][0].held["name"]
        form.sent[name] = [SimpleUploadedFile("people.csv", content)]  # type: ignore[list-item]
        return self._submit(form, button)

    def sign_in(self, email: str, password: str = PASSWORD) -> str:
        self.open("/accounts/login/")
        return self.send("Sign in", {"Email address": email, "Password": password})

    @property
    def words(self) -> str:
        """What stands on the page, its frame left out."""
        return next(self.page.all("main"), self.page).words

    def links(self, pattern: str) -> list[str]:
        """The words of the links on the page that match."""
        main = next(self.page.all("main"), self.page)
        return [one.words for one in main.all("a") if re.search(pattern, one.words)]

    def _form_with(self, words: str) -> tuple[Form, Button]:
        forms = [Form(one) for one in self.page.all("form")]
        found = [(f, one) for f in forms for one in f.buttons if words in (one.words, one.shown)]
        shown = [one.words for form in forms for one in form.buttons]
        assert len(found) == 1, f"{len(found)} buttons “{words}” on {self.at}: {shown}"
        return found[0]

    def _submit(self, form: Form, button: Button) -> str:
        sent: dict[str, Any] = {**form.sent}
        if button.name:
            sent[button.name] = [button.value]
        address = urljoin(self.at, button.address or form.address or self.at)
        if form.method == "get":
            asked = QueryDict(mutable=True)
            for name, values in sent.items():
                asked.setlist(name, values)
            return self.open(f"{urlsplit(address).path}?{asked.urlencode()}")
        return self._see(self.client.post(address, sent, follow=True), address)

    def _see(self, response: Any, address: str) -> str:
        chain = response.redirect_chain
        self.at = urljoin(self.at, chain[-1][0] if chain else address)
        self.html = response.content.decode()
        assert response.status_code == 200, (
            f"{response.status_code} at {self.at}: {read(self.html).words[:1500]}"
        )
        self.page = read(self.html)
        wrong = [one.words for one in self.page.all("div") if _is_wrong(one)]
        assert wrong == [], f"{self.at}: {wrong}"
        return self.words


def _is_wrong(one: Element) -> bool:
    return one.held.get("role") == "alert" and "errors" in one.held.get("class", "")
