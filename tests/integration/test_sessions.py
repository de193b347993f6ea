"""What the suite does before it drops its database."""

import psycopg
import pytest
from django.db import connection

from tests.sessions import end_others


@pytest.mark.postgres
@pytest.mark.django_db
def test_a_session_that_somebody_left_open_is_ended() -> None:
    """Another session of the database is gone; the one that ended it goes on."""
    name = connection.settings_dict["NAME"]
    left_open = psycopg.connect(**{**connection.get_connection_params(), "dbname": name})
    end_others(connection)
    with pytest.raises(psycopg.OperationalError):
        left_open.execute("SELECT 1")
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
        assert cursor.fetchone() == (1,)
