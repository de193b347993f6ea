"""A line of the product can be read without running it in one's head."""

import ast
from collections.abc import Iterator

from tests.architecture.tree import parsed, python_files

PRODUCT = ("accounts", "bookings", "config", "requirements")


def nodes() -> Iterator[tuple[str, ast.AST]]:
    """Every node of the product's code, with its place as "path:line"."""
    for path in python_files(*PRODUCT):
        for node in ast.walk(parsed(path)):
            yield f"{path}:{getattr(node, 'lineno', 0)}", node


def is_choice(node: ast.expr) -> bool:
    """Whether the value is true or false: a comparison, `not`, or a name that asks a question."""
    if isinstance(node, ast.Name | ast.Attribute):
        name = node.id if isinstance(node, ast.Name) else node.attr
        return name.startswith(("is_", "has_", "may_"))
    if isinstance(node, ast.Call):
        return isinstance(node.func, ast.Name) and node.func.id == "bool"
    if isinstance(node, ast.UnaryOp):
        return isinstance(node.op, ast.Not)
    return isinstance(node, ast.Compare | ast.BoolOp)


def test_a_function_with_a_name_is_a_def() -> None:
    """No lambda is assigned to a name: a `def` can have a docstring and shows in a traceback."""
    named = [
        place
        for place, node in nodes()
        if isinstance(node, ast.Assign | ast.AnnAssign) and isinstance(node.value, ast.Lambda)
    ]
    assert named == []


def test_no_name_is_assigned_inside_a_call() -> None:
    """An argument of a call assigns nothing: what a line changes stands on its left."""
    hidden = []
    for place, node in nodes():
        if isinstance(node, ast.Call):
            values = [*node.args, *(keyword.value for keyword in node.keywords)]
            inside = (part for value in values for part in ast.walk(value))
            hidden += [place for part in inside if isinstance(part, ast.NamedExpr)]
    assert hidden == []


def test_a_choice_is_an_if() -> None:
    """Nothing is multiplied by true or false in place of an `if`."""
    products = [
        place
        for place, node in nodes()
        if isinstance(node, ast.BinOp)
        and isinstance(node.op, ast.Mult)
        and (is_choice(node.left) or is_choice(node.right))
    ]
    assert products == []
