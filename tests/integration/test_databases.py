"""What a connection to the database asks for."""

import pytest
from django.db import connection


@pytest.mark.postgres
def test_a_connection_asks_postgresql_to_compile_nothing(db: None) -> None:
    """Whatever the server is set to: it compiles by default."""
    with connection.cursor() as cursor:
        cursor.execute("SHOW jit")
        assert cursor.fetchone() == ("off",)
