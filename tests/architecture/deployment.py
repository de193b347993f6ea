"""The files that a school deploys from, as the tests read them."""

import ast
import re
from typing import Any

import yaml

from tests.architecture.tree import ROOT, parsed

COMPOSE: dict[str, Any] = yaml.safe_load((ROOT / "docker-compose.yml").read_text())
SERVICES: dict[str, dict[str, Any]] = COMPOSE["services"]


def read_settings() -> set[str]:
    """The names of the environment variables that config/ reads through django-environ."""
    names = set()
    for path in (ROOT / "config").glob("*.py"):
        for node in ast.walk(parsed(path.relative_to(ROOT))):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Attribute)
                and ast.unparse(node.func.value) == "env"
            ):
                first = node.args[0]
                assert isinstance(first, ast.Constant), (
                    f"{path}:{node.lineno} reads a name that is not written out"
                )
                names.add(str(first.value))
    return names


def explained_settings() -> set[str]:
    return set(re.findall(r"^# ([A-Z][A-Z_]+)=", (ROOT / ".env.example").read_text(), re.MULTILINE))


OPERATIONS_PAGE = (ROOT / "docs" / "operations.md").read_text()
