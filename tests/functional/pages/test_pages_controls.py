"""No control character comes from a form to the database, which may refuse it."""

import json
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection, transaction
from django.test import Client

from tests.functional.pages.matrix import addresses
from tests.functional.pages.school import School, as_user

pytestmark = pytest.mark.sql

SIGNS = ("\0", "\x07", "\x1b", "\x9f", "\u2028")
"""NUL, which PostgreSQL refuses, controls of both sets, and a separator at which some break."""
BROKEN = "".join(f"a{sign}b" for sign in SIGNS)
FIELDS = (
    "body", "called_off_why", "find", "goal", "label", "name", "note", "obstacle", "piece",
    "pieces", "q", "question_1", "reason", "recording", "room", "seen", "state", "text", "title",
    "version_name", "why", "wording", "words",
)  # fmt: skip
YES = {"end": "yes", "agree": "yes", "sure": "yes", "is_admin": "yes", "say": "no", "act": "end"}


def holds_a_sign(value: Any) -> bool:
    return any(sign in value for sign in SIGNS) if isinstance(value, str) else False


def test_no_form_brings_a_control_character_to_the_database(school: School) -> None:
    """GET and POST of every page with such text in every field of words, as everybody who may be
    let in; each POST is taken back.
    """
    faults: list[str] = []
    where = ""

    def watch(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: Any) -> Any:
        values = params if isinstance(params, (list, tuple)) else ()
        found = [one for one in values if holds_a_sign(getattr(one, "obj", one))]
        # A session keeps what was typed for its owner alone, as JSON in which signs are escaped.
        if found and "django_session" not in sql:
            faults.append(f"{where}: {sql[:60]} {json.dumps(found)[:80]}")
        return execute(sql, params, many, context)

    typed = {**dict.fromkeys(FIELDS, BROKEN), **YES, "student": school.noor.pk}
    browsers: list[Client] = [
        as_user(one) for one in (school.dag, school.ilse.user, school.noor.user, school.hedda)
    ]
    for browser in browsers:
        browser.raise_request_exception = False
    with connection.execute_wrapper(watch):
        for name, address in addresses(school).items():
            for number, browser in enumerate(browsers):
                for verb in (browser.get, browser.post):
                    where = f"{verb.__name__} {name} as {number}"
                    with transaction.atomic():
                        if verb(address, typed).status_code >= 500:
                            faults.append(where)
                        transaction.set_rollback(True)
    assert faults == []
