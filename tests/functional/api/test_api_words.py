"""One vocabulary: every member and parameter of the API is called by the one word there is for it,
and looks the same everywhere.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from typing import Any

import pytest

from tests.functional.api.client import schema

pytestmark = pytest.mark.one_database

# A second word -> the word there is. A member may hold it as one of its words: `call_off_why`.
SECOND_WORDS = {
    "why": "reason",
    "words": "reason, or detail where the machine says it",
    "sentence": "detail",
    "message": "detail",
    "state": "standing, or status for a meeting's",
    "place_kind": "as",
    "shows": "kind",
    "label": "name",
    "url": "address",
    "uri": "address",
    "ics": "calendar",
    "position": "rank",
    "suits": "fit_reasons",
    "queue": "waiting_list",
    "teacher": "instructor",
    "pupil": "student",
    "parent": "guardian",
    "lesson": "booking or meeting",
    "seat": "place",
    "zone": "time_zone",
    "tz": "time_zone",
}
# In an answer each of these is told alike wherever it stands: what has a name with its name, the
# rest by its id.
NAMED = {"offering", "instructor", "student", "term", "author"}
BY_ID = {"booking", "meeting"}
# RFC 9457 section 3.1.3 has `status` for the HTTP status of a problem; `results` are the rows of
# any list, and `inputs` are what a plan is asked, in the form of its kind.
MANY_MEANINGS = {"status", "results", "inputs"}

Members = dict[str, list[tuple[str, Mapping[str, Any]]]]


def _plain(member: Mapping[str, Any]) -> Any:
    """What a member looks like, without what is said about it and without null."""
    if "$ref" in member:
        target = schema()["components"]["schemas"][member["$ref"].rpartition("/")[2]]
        return member["$ref"] if "properties" in target else _plain(target)
    for word in ("oneOf", "anyOf", "allOf"):
        if word in member:
            looks = [_plain(one) for one in member[word] if one.get("type") != "null"]
            looks = [one for one in looks if one != ("string", "", ())] or looks
            return looks[0]  # of two ways to write a thing the first says what it is
    kinds = member.get("type", "object")
    kind = next(one for one in kinds if one != "null") if isinstance(kinds, list) else kinds
    if kind == "array":
        return ("array", _plain(member["items"]))
    words = tuple(sorted(word for word in member.get("enum", ()) if word))
    return (kind, member.get("format", ""), words)


def _type(member: Mapping[str, Any]) -> Any:
    """What a member looks like, whichever words it chooses from: each thing has standings of its
    own.
    """
    plain = _plain(member)
    return plain[:2] if isinstance(plain, tuple) and plain[0] != "array" else plain


def _walk(node: Any, where: str) -> Iterator[tuple[str, str, Mapping[str, Any]]]:
    if isinstance(node, Mapping):
        if isinstance(node.get("properties"), Mapping):
            for name, member in node["properties"].items():
                yield where, name, member
        for inner in node.values():
            yield from _walk(inner, where)
    elif isinstance(node, list):
        for inner in node:
            yield from _walk(inner, where)


def _reached(node: Any, found: set[str]) -> set[str]:
    """The components that a part of the document leads to."""
    if isinstance(node, Mapping):
        name = str(node.get("$ref", "")).rpartition("/")[2]
        if name and name not in found:
            found.add(name)
            _reached(schema()["components"]["schemas"][name], found)
        for inner in node.values():
            _reached(inner, found)
    elif isinstance(node, list):
        for inner in node:
            _reached(inner, found)
    return found


def _members(side: str) -> Members:
    """Each member's name with the places where it stands, in what is asked or what is answered."""
    operations = [call for verbs in schema()["paths"].values() for call in verbs.values()]
    bodies = [
        call.get("requestBody", {}) if side == "asked" else call["responses"] for call in operations
    ]
    found: Members = defaultdict(list)
    for name in _reached(bodies, set()):
        for where, member, look in _walk(schema()["components"]["schemas"][name], name):
            found[member].append((where, look))
    if side == "asked":
        for call in operations:
            for asked in call.get("parameters", []):
                if asked["in"] == "query":
                    found[asked["name"]].append((call["operationId"], asked["schema"]))
    return found


SIDES = ("asked", "answered")


@pytest.mark.parametrize("side", SIDES)
def test_no_thing_has_a_second_word(side: str) -> None:
    """A member is called by the word of the vocabulary, never by another for the same thing. An
    owed lesson is a thing of its own.
    """
    second = {
        f"{member}: say {SECOND_WORDS[word]}"
        for member in _members(side)
        for word in SECOND_WORDS
        if f"_{word}_" in f"_{member}_"
        and member not in {"time_zone", "owed_lesson", *_zones(member)}
    }
    assert second == set()


def _zones(member: str) -> set[str]:
    return {member} if member.endswith(("time_zone", "unknown_zones")) else set()


@pytest.mark.parametrize("side", SIDES)
def test_a_name_has_one_meaning(side: str) -> None:
    """A member of one name has one type everywhere, null aside."""
    looks = {
        member: {str(_type(look)): where for where, look in places}
        for member, places in _members(side).items()
        if member not in MANY_MEANINGS
    }
    assert {member: found for member, found in looks.items() if len(found) > 1} == {}


def test_what_is_referred_to_is_told_alike() -> None:
    """In an answer a person, an offering or a term comes with its name, a booking or a meeting as
    its id; a request sends ids.
    """
    asked, answered = _members("asked"), _members("answered")
    for member in NAMED & set(answered):
        for where, look in answered[member]:
            target = schema()["components"]["schemas"][str(_plain(look)).rpartition("/")[2]]
            wanted = {"id", "name", "kind"} if member == "offering" else {"id", "name"}
            assert set(target["properties"]) == wanted, (where, member)
    for member, places in [*((name, answered[name]) for name in BY_ID), *_sent(asked)]:
        for where, look in places:
            assert _plain(look)[0] == "integer", (where, member)


def _sent(asked: Members) -> list[tuple[str, list[tuple[str, Mapping[str, Any]]]]]:
    return [(name, asked[name]) for name in (NAMED | BY_ID) & set(asked)]


@pytest.mark.parametrize("side", SIDES)
def test_the_case_of_a_word_says_what_it_tells(side: str) -> None:
    """Where something stands is in capitals, as RFC 5545 writes its own; what kind of thing it is,
    and why, is in small letters.
    """
    for member, places in _members(side).items():
        for where, look in places:
            plain = _plain(look)
            words = plain[-1] if isinstance(plain, tuple) and plain[0] == "string" else ()
            stands = member in {"standing", "status", "attendance", "others", "weekday"}
            for word in words:
                assert word == (word.upper() if stands else word.lower()), (where, member, word)


@pytest.mark.parametrize("side", SIDES)
def test_the_end_of_a_name_says_its_type(side: str) -> None:
    """`_at` and `_by` name an instant, `_on` a date, `_time` a wall time."""
    for member, places in _members(side).items():
        for where, look in places:
            kind = _plain(look)[1]
            if member == "use_by":  # the trade's own word for a date
                assert kind == "date", (where, member)
            elif member.endswith(("_at", "_by", "_until", "_start")):
                assert kind == "date-time", (where, member)
            elif member == "on" or member.endswith("_on"):
                assert kind == "date", (where, member)
