from typing import Any

from django.core.cache import cache

from tests.functional.api.client import V1, Api, Reply, schema, undone
from tests.functional.api.matrix import MATRIX, ROLES
from tests.functional.api.world import World

""""""

NOBODY = 987_654_321


def whole(part: Any) -> dict[str, Any]:
    """A part of the schema with what it refers to, and all that its alternatives name."""
    found = dict(part)
    if "$ref" in part:
        found |= whole(schema()["components"]["schemas"][part["$ref"].rpartition("/")[2]])
    for word in ("allOf", "anyOf", "oneOf"):
        for each in part.get(word, []):
            one = whole(each)
            found.setdefault("type", one.get("type"))
            found["properties"] = found.get("properties", {}) | one.get("properties", {})
    return found


def kind_of(part: dict[str, Any]) -> str:
    named = part.get("type", "string")
    return named if isinstance(named, str) else next(one for one in named if one != "null")


def described(verb: str, pattern: str) -> dict[str, Any]:
    found: dict[str, Any] = schema()["paths"][V1 + pattern.replace("<id:pk>", "{id}")][verb.lower()]
    return found


def members(verb: str, pattern: str) -> dict[str, Any]:
    content = described(verb, pattern).get("requestBody", {}).get("content", {})
    found: dict[str, Any] = whole(content.get("application/json", {}).get("schema", {}))
    return found.get("properties", {})


def form_of(verb: str, pattern: str, sent: dict[str, Any]) -> dict[str, Any]:
    """The members of the one form that `sent` is of, where a call takes one of two."""
    content = described(verb, pattern)["requestBody"]["content"]["application/json"]["schema"]
    name = content.get("$ref", "").rpartition("/")[2]
    for variant in schema()["components"]["schemas"].get(name, {}).get("oneOf", []):
        form = schema()["components"]["schemas"][variant["$ref"].rpartition("/")[2]]
        if set(form["required"]) <= set(sent):
            return {member: whole(part) for member, part in form["properties"].items()}
    return members(verb, pattern)


def parameters(verb: str, pattern: str) -> dict[str, Any]:
    return {
        one["name"]: whole(one["schema"])
        for one in described(verb, pattern).get("parameters", [])
        if one["in"] == "query"
    }


class Caller:
    """Somebody for whom the call would succeed, and what they would send."""

    def __init__(self, world: World, cell: tuple[str, str], role: str = "") -> None:
        self.verb, self.pattern = cell
        route = MATRIX[cell]
        self.path, body = route.path(world), route.body(world)
        self.body: dict[str, Any] = body or {}
        succeed = (name for name, status in zip(ROLES, route.cells, strict=True) if status < 300)
        role = role or next(succeed, "admin")
        self._api = Api(None if self.pattern == "tokens/" else world.people()[role])

    def send(self, body: Any = None, *, query: str = "", **how: Any) -> Reply:
        cache.clear()  # throttles are tested elsewhere
        path = self.path + (("&" if "?" in self.path else "?") + query if query else "")
        match = None if self.verb == "GET" else "*"
        with undone():
            return self._api.ask(self.verb, path, body, match=match, **how)

    def refuses_at(self, pointer: str, body: Any = None, *, query: str = "") -> None:
        sent = self.body or None if body is None else body
        reply = self.send(sent, query=query)
        told = (self.verb, self.path, sent, query, reply.body)
        assert reply.status == 422, told
        pointers = [error["pointer"] for error in reply.json["errors"]]
        assert pointers, told
        assert all(one == pointer or one.startswith(f"{pointer}/") for one in pointers), told
