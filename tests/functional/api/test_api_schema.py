"""The API's own description, asked for by many at once."""

import threading
from typing import Any

import pytest
from django.test import Client

from bookings.api import documents

pytestmark = pytest.mark.one_database

ADDRESS = "/api/schema/"
ASKERS = 8


def test_first_requests_that_meet_all_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """The first requests of a process meet in its threads: the library's generator must not run twice at once."""
    documents.document.cache_clear()
    documents._written.clear()
    began, together, running, most = threading.Barrier(ASKERS), threading.Lock(), [0], [0]
    generate = documents.SchemaGenerator.get_schema

    def watched(self: Any, *args: Any, **kwargs: Any) -> Any:
        with together:
            running[0] += 1
            most[0] = max(most[0], running[0])
        try:
            return generate(self, *args, **kwargs)
        finally:
            with together:
                running[0] -= 1

    monkeypatch.setattr(documents.SchemaGenerator, "get_schema", watched)
    answers: list[Any] = [None] * ASKERS

    def ask(place: int) -> None:
        client = Client(raise_request_exception=False)
        began.wait()
        answers[place] = client.get(ADDRESS, headers={"Accept": "application/json"})

    threads = [threading.Thread(target=ask, args=(place,)) for place in range(ASKERS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert {answer.status_code for answer in answers} == {200}
    assert len({answer.content for answer in answers}) == 1
    assert most[0] == 1


def test_both_notations_say_the_same() -> None:
    """YAML for readers, JSON for programs: one document."""
    import yaml

    by_name = {
        kind: Client().get(ADDRESS, headers={"Accept": kind}).content
        for kind in ("application/json", "application/yaml")
    }
    assert yaml.safe_load(by_name["application/yaml"]) == yaml.safe_load(
        by_name["application/json"]
    )


def test_it_is_rendered_once_a_process(monkeypatch: pytest.MonkeyPatch) -> None:
    """Anybody may ask, so asking costs next to nothing (OWASP API4:2023), however the asker spells the same notation."""
    documents.document.cache_clear()
    documents._written.clear()
    rendered = []
    every = documents.Schema.renderer_classes
    for renderer in (one for one in every if one.__bases__[0] not in every):
        plain = renderer.render

        def counted(self: Any, *args: Any, plain: Any = plain, **kwargs: Any) -> Any:
            rendered.append(self.media_type)
            return plain(self, *args, **kwargs)

        monkeypatch.setattr(renderer, "render", counted)
    for kind in ("application/json", "application/json; indent=3", "application/yaml"):
        answers = [Client().get(ADDRESS, headers={"Accept": kind}) for _ in range(3)]
        assert len({(answer.content, answer["Content-Type"]) for answer in answers}) == 1
        assert answers[0].status_code == 200
    assert sorted(rendered) == ["application/json", "application/yaml"]
