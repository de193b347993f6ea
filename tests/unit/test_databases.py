"""How connections to the database are kept, and what its address may say of that."""

from pathlib import Path

from config.databases import database

POSTGRES = {"ENGINE": "django.db.backends.postgresql", "NAME": "levare"}


def test_connections_are_kept_unless_the_address_says_otherwise():
    """Behind a pooler a connection is another one after every transaction."""
    assert database(POSTGRES, test_file=Path("x"))["CONN_MAX_AGE"] == 60
    pooled = {**POSTGRES, "CONN_MAX_AGE": 0, "DISABLE_SERVER_SIDE_CURSORS": "true"}
    found = database(pooled, test_file=Path("x"))
    assert (found["CONN_MAX_AGE"], found["DISABLE_SERVER_SIDE_CURSORS"]) == (0, "true")
    assert found["ATOMIC_REQUESTS"] is False


def test_postgresql_compiles_no_statement_unless_the_address_says_otherwise():
    """Compiling took 500 of the 750 ms of Needs you now among 5,000 students."""
    assert database(POSTGRES, test_file=Path("x"))["OPTIONS"] == {"options": "-c jit=off"}
    address = {**POSTGRES, "OPTIONS": {"options": "-c jit=on", "sslmode": "require"}}
    assert database(address, test_file=Path("x"))["OPTIONS"] == address["OPTIONS"]
