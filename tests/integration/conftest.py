"""What every database test gets."""

import pytest
from django.db import connection


@pytest.fixture(autouse=True)
def audit_can_be_emptied_after_the_test(request):
    """The suite's own clean-up deletes every row between tests; on SQLite the audit's guard would stop it.

    migrate's signal, which the clean-up sends, puts the guard back for the next test.
    """
    mark = request.node.get_closest_marker("django_db")
    committed = mark is not None and mark.kwargs.get("transaction", False)
    if committed:
        request.getfixturevalue("transactional_db")  # asked for here, so that it is cleaned up after this one
    yield
    if committed and connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("DROP TRIGGER IF EXISTS audit_is_final_delete")
