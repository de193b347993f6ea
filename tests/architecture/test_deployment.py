"""The files a school deploys from agree with the settings, with each other and with what they promise."""

import ast
import json
import re
from importlib.resources import files

import pytest
from jsonschema import Draft202012Validator

from tests.architecture.deployment import COMPOSE, SERVICES, explained_settings, read_settings
from tests.architecture.tree import ROOT

OURS = ["web", "worker", "beat", "migrate"]


def test_every_setting_is_explained() -> None:
    """.env.example names exactly the settings that are read, and the passwords that docker-compose.yml asks for."""
    asked_by_compose = set(re.findall(r"\$\{(\w+):\?", str(COMPOSE)))
    assert explained_settings() == read_settings() | asked_by_compose


def test_every_explained_setting_has_a_sentence() -> None:
    """In .env.example each group of settings follows a comment that says what it is for."""
    for block in (ROOT / ".env.example").read_text().split("\n\n"):
        assert re.search(r"^# [A-Z].* ", block), block


@pytest.mark.parametrize("name", ["web", "worker", "beat", "postgres", "redis"])
def test_each_service_says_whether_it_is_well(name: str) -> None:
    """Every long-running service has a health check with an interval and comes back after a restart of the machine."""
    check = SERVICES[name]["healthcheck"]
    assert check["test"][0] in {"CMD", "CMD-SHELL"}
    assert check["interval"]
    assert SERVICES[name]["restart"] == "unless-stopped"


@pytest.mark.parametrize("name", OURS)
def test_our_services_hold_little_power(name: str) -> None:
    """Our own containers run as nobody in particular, on a read-only root, without capabilities."""
    service = SERVICES[name]
    assert service["read_only"] is True
    assert service["cap_drop"] == ["ALL"]
    assert "no-new-privileges:true" in service["security_opt"]
    assert re.findall(r"^USER (\w+)$", (ROOT / "Dockerfile").read_text(), re.MULTILINE) == [
        "levare"
    ]


@pytest.mark.parametrize("name", ["postgres", "redis"])
def test_the_stores_hold_little_power(name: str) -> None:
    """PostgreSQL and Redis run as users of their own from the start, on a read-only root, without capabilities."""
    service = SERVICES[name]
    assert service["user"] == name
    assert service["read_only"] is True
    assert service["cap_drop"] == ["ALL"]
    assert service["security_opt"] == ["no-new-privileges:true"]


def test_compose_reads_the_file() -> None:
    """docker-compose.yml is valid by the schema of the Compose Specification, of which check-jsonschema brings a copy."""
    schema = (
        files("check_jsonschema.builtin_schemas.vendor").joinpath("compose-spec.json").read_text()
    )
    assert [
        error.message for error in Draft202012Validator(json.loads(schema)).iter_errors(COMPOSE)
    ] == []
    broken = {**COMPOSE, "services": {"web": {"helthcheck": {}}}}
    assert not Draft202012Validator(json.loads(schema)).is_valid(broken)


def test_the_image_starts_what_compose_starts() -> None:
    """The image's own command is the web process's, so that an image started by hand serves in the same way."""
    command = re.findall(r"^CMD (\[.*\])$", (ROOT / "Dockerfile").read_text(), re.MULTILINE)
    assert [ast.literal_eval(one) for one in command] == [SERVICES["web"]["command"]]


def test_services_wait_for_what_they_need() -> None:
    """Web, worker and beat start after the migrations succeeded, and those after PostgreSQL answers."""
    for name in ("web", "worker", "beat"):
        assert SERVICES[name]["depends_on"]["migrate"] == {
            "condition": "service_completed_successfully"
        }
    assert SERVICES["migrate"]["depends_on"]["postgres"] == {"condition": "service_healthy"}


def test_data_outlives_its_container() -> None:
    """PostgreSQL and Redis keep what they hold in named volumes."""
    for name in ("postgres", "redis"):
        volume = SERVICES[name]["volumes"][0].partition(":")[0]
        assert volume in COMPOSE["volumes"]


def test_the_health_checks_are_python_that_parses() -> None:
    """The one-line programs in the health checks are valid Python; a misprint would look like an ill service."""
    for name in ("web", "beat"):
        ast.parse(SERVICES[name]["healthcheck"]["test"][-1])


def test_the_commands_have_their_words() -> None:
    """Each target of the Makefile that people call is listed by `make help` with a sentence."""
    text = (ROOT / "Makefile").read_text()
    phony = set(re.findall(r"^\.PHONY: (.*)$", text, re.MULTILINE)[0].split())
    assert phony == set(re.findall(r"^([a-z-]+):[^#\n]*## \w", text, re.MULTILINE))
    assert phony >= {
        "demo",
        "demo-once",
        "test",
        "check",
        "bench",
        "races",
        "mutants",
        "audit",
        "help",
    }


def test_requirements_are_hashed_and_name_no_index() -> None:
    """Each locked file carries hashes, and every group but base pins the same versions as base for what they share."""
    pins = {}
    for group in ("base", "metrics", "test", "browser", "dev"):
        text = (ROOT / "requirements" / f"{group}.txt").read_text()
        pins[group] = dict(
            re.findall(r"^([a-z0-9][a-z0-9._-]*)(?:\[[^]]*\])?==(\S+)", text, re.MULTILINE)
        )
        assert text.count("--hash=sha256:") >= len(pins[group])
        assert not re.search(r"https?://|--index|--find-links", text)
    for group in ("test", "browser", "dev"):
        assert pins["base"].items() | pins["metrics"].items() <= pins[group].items()


@pytest.mark.parametrize("name", SERVICES)
def test_logs_do_not_fill_the_disk(name: str) -> None:
    """Each container's log is turned over at a size, and a few of the old ones are kept (Docker keeps all by default)."""
    options = SERVICES[name]["logging"]["options"]
    assert re.fullmatch(r"\d+m", options["max-size"]) and int(options["max-file"]) > 1


@pytest.mark.parametrize("name", ["postgres", "redis"])
def test_stores_are_pinned_to_a_release(name: str) -> None:
    """A new start of the machine never brings a new release, nor another system below it, which could sort text otherwise."""
    assert re.fullmatch(rf"{name}:\d+\.\d+(\.\d+)?-[a-z]+", SERVICES[name]["image"])


def test_postgresql_is_well_only_over_tcp() -> None:
    """While its image makes a new cluster, a server answers on the socket alone; whoever waits for it would come too early."""
    check = SERVICES["postgres"]["healthcheck"]["test"]
    assert check[:2] == ["CMD", "pg_isready"]
    assert check[check.index("--host") + 1] == "127.0.0.1"


@pytest.mark.parametrize("name", OURS)
def test_what_our_services_connect_to_asks_for_a_password(name: str) -> None:
    """Database and Redis are reached with passwords, and Compose refuses to start where one is not set."""
    for setting in ("DATABASE_URL", "REDIS_URL"):
        address = SERVICES[name]["environment"][setting]
        assert re.match(r"^\w+://\w*:\$\{\w+:\?[^}]+\}@", address), address
