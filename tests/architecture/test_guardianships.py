"""Who answers for a child is asked in one word: `Guardianship.objects.answering()`."""

import ast
from collections.abc import Iterator
from pathlib import Path

from tests.architecture.tree import parsed, python_files

WHOLE = {
    ("bookings/demo/school.py", "_people"),  # makes the demo’s
    ("bookings/operations/consents.py", "renew_forms"),  # closes forms of a closed account too
    ("bookings/operations/consents.py", "give_consent"),  # locks first, asks afterwards
    ("bookings/operations/consents.py", "give_own_consent"),
    ("bookings/operations/guardians.py", "lock_guardianship"),
    ("bookings/operations/invitations.py", "_give_roles"),  # makes one
    ("bookings/queries/guardians.py", "known_guardianships"),  # what admins read
    ("bookings/queries/guardians.py", "all_guardianships"),
    ("bookings/queries/guardians.py", "any_guardianship"),
    ("bookings/queries/people.py", "_lists"),
    ("bookings/operations/erasing.py", "_erase"),  # a barred guardian’s account goes as well
    ("bookings/queries/privacy.py", "accounts_going"),
    ("bookings/queries/privacy.py", "_has_another_role"),
    ("bookings/access/students.py", "named_to_admins"),
    ("bookings/queries/bringing_in.py", "known_of"),  # so that a file asks no barred one again
    ("bookings/queries/guardians.py", "check_is_no_guardians"),  # no barred one becomes the child
    ("bookings/queries/guardians.py", "check_guards_nobody"),  # nor a minor: the bar may be lifted
}
"""The functions that look at all guardianships: barred ones, and those of closed accounts."""
WORDS = ("answering", "barred")
JOINS = ("guardians", "children", "guardianships")
TABLES = {Path("accounts/models/roles.py"), Path("accounts/admin.py")}


def functions() -> Iterator[tuple[Path, ast.FunctionDef]]:
    """Every function of the product but those of the tables themselves and the migrations."""
    for path in python_files("accounts", "bookings"):
        if path not in TABLES and "migrations" not in path.parts:
            for node in ast.walk(parsed(path)):
                if isinstance(node, ast.FunctionDef):
                    yield path, node


def begins_a_read(node: ast.AST) -> bool:
    """`Guardianship.objects`, or `.guardianships` and the like of a student or a person."""
    if not isinstance(node, ast.Attribute):
        return False
    if node.attr == "objects":
        return isinstance(node.value, ast.Name) and node.value.id == "Guardianship"
    return node.attr in JOINS


def is_a_join(node: ast.AST) -> bool:
    """A keyword that filters through the table, such as `student__guardians__in=`."""
    return (
        isinstance(node, ast.keyword)
        and node.arg is not None
        and any(part in JOINS for part in node.arg.split("__"))
    )


def test_nobody_looks_for_guardians_past_the_bar() -> None:
    """A barred guardian is as none: each read begins with `answering`, and no filter joins the
    table, but where admins read and where a row is locked first.
    """
    past = set()
    for path, function in functions():
        asked = {
            node.value
            for node in ast.walk(function)
            if isinstance(node, ast.Attribute) and node.attr in WORDS
        }
        for node in ast.walk(function):
            if (begins_a_read(node) and node not in asked) or is_a_join(node):
                past.add((str(path), function.name))
    assert past == WHOLE
