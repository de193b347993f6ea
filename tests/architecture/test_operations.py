"""docs/operations.md names what there is: its commands, services, settings and parts of readiness
are those of the code.
"""

import re
import shlex

import pytest
from django.core.management import get_commands

from bookings import health
from tests.architecture import dockerfile
from tests.architecture.deployment import OPERATIONS_PAGE, SERVICES, explained_settings
from tests.architecture.tree import ROOT

README = (ROOT / "README.md").read_text()
BLOCKS = re.findall(r"^ *```(\w*)\n(.*?)^ *```$", OPERATIONS_PAGE, re.MULTILINE | re.DOTALL)
PROXY = next(text for language, text in BLOCKS if language == "nginx")


def commands(subcommand: str) -> list[list[str]]:
    """The words after `docker compose SUBCOMMAND` of each place where the page or README.md says
    so.
    """
    said = re.findall(
        rf"docker compose (?:--\S+ \S+ )?{subcommand} ([^\n`]+)", OPERATIONS_PAGE + README
    )
    return [shlex.split(line.split(" #")[0].split("||")[0].split("<")[0]) for line in said]


def test_every_service_that_is_named_is_there() -> None:
    """A command for a container names one of docker-compose.yml's services."""
    named = {
        next(word for word in words if not word.startswith("-"))
        for subcommand in ("exec", "run", "up --detach --no-deps")
        for words in commands(subcommand)
    }
    stopped = {word for words in commands("stop") for word in words}
    assert {"web", "postgres", "migrate"} <= named
    assert named | stopped <= set(SERVICES)


def test_every_command_that_is_named_is_there() -> None:
    """`manage.py X` is a command of Django or of the product, and those that people must know are
    all named.
    """
    named = set(re.findall(r"manage\.py ([a-z_]+)", OPERATIONS_PAGE + README))
    assert named <= set(get_commands()), named - set(get_commands())
    assert named >= {
        "migrate",
        "collectstatic",
        "createsuperuser",
        "audit_places",
        "check_school",
        "receive_mail",
        "retime",
    }


def test_the_commands_without_docker_are_those_of_compose() -> None:
    """Web, worker and beat are started by the same words, but for the folder."""
    for name in ("web", "worker", "beat"):
        words = shlex.join(SERVICES[name]["command"]).replace("/srv/levare/var/", "var/")
        assert words.replace("''", '""') in OPERATIONS_PAGE, name


def test_static_files_are_collected_before_pages_are_served() -> None:
    """In the image before it runs, and in the page's commands before the web process starts."""
    runs = [step.word + " " + step.rest for step in dockerfile.steps()]
    collected = next(i for i, run in enumerate(runs) if "collectstatic" in run)
    assert collected < next(i for i, run in enumerate(runs) if run.startswith("CMD"))
    assert OPERATIONS_PAGE.index("manage.py collectstatic") < OPERATIONS_PAGE.index(
        "gunicorn --config"
    )


def test_every_part_of_readiness_is_explained() -> None:
    """Each check has a row in the table."""
    rows = set(re.findall(r"^\| `([a-z ]+)` \|", OPERATIONS_PAGE, re.MULTILINE))
    assert rows >= {*health._CHECKS, "broker", "mail"}


def test_every_setting_that_is_named_is_there() -> None:
    """A word in capitals with an underscore is a setting of .env.example."""
    named = set(re.findall(r"\b[A-Z]+_[A-Z_]+\b", OPERATIONS_PAGE)) - {"PROMETHEUS_MULTIPROC_DIR"}
    assert named <= explained_settings(), named - explained_settings()


@pytest.mark.parametrize("header", ["X-Forwarded-For", "X-Forwarded-Proto", "X-Forwarded-Host"])
def test_the_proxy_overwrites_what_a_caller_forwards(header: str) -> None:
    """Source: RFC 7239 section 8.1, forwarded headers are whatever a client wrote. nginx's
    `$proxy_add_...` would append.
    """
    values = re.findall(rf"proxy_set_header {header} (\S+);", PROXY)
    assert values in [["$remote_addr"], ["$scheme"], ['""']]
    assert "$proxy_add_x_forwarded_for" not in PROXY and "$http_" not in PROXY


def test_the_proxy_bounds_what_it_takes() -> None:
    """TLS only, one name, and bodies of a size; its log does not hold the secret addresses of
    feeds.
    """
    assert re.search(r"client_max_body_size [1-9]m;", PROXY)
    assert "listen 443 ssl;" in PROXY and "ssl_reject_handshake on;" in PROXY
    assert "access_log off;" in PROXY
    assert f"proxy_pass http://{SERVICES['web']['ports'][0].rpartition(':')[0]};" in PROXY
