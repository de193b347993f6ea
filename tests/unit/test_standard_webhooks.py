"""Signatures of deliveries.

Source: Standard Webhooks 1.0.0. The specification prints an example signature without its secret,
so the values are those of the tests of its reference libraries (libraries/javascript/src/
webhook.test.ts, "sign function works"; the same in its other languages).
"""

import base64

import pytest

from bookings.domain.standard_webhooks import (
    PREFIX,
    header_fields,
    key_of,
    new_signing_secret,
    signature,
)

SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
EVENT_ID = "msg_p5jXN8AQM9LWM0D4loKWxJek"
TIMESTAMP = 1614265330
BODY = b'{"test": 2432232314}'
EXPECTED = "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="


@pytest.mark.parametrize("secret", [SECRET, SECRET.removeprefix(PREFIX)])
def test_the_signature_is_that_of_the_reference_libraries(secret: str) -> None:
    """With and without the prefix of the secret."""
    assert signature(secret, EVENT_ID, TIMESTAMP, BODY) == EXPECTED


@pytest.mark.parametrize(
    ("event_id", "timestamp", "body"),
    [
        ("msg_other", TIMESTAMP, BODY),
        (EVENT_ID, TIMESTAMP + 1, BODY),
        (EVENT_ID, TIMESTAMP, BODY.replace(b" ", b"")),
    ],
)
def test_id_timestamp_and_every_byte_of_the_body_are_signed(
    event_id: str, timestamp: int, body: bytes
) -> None:
    """Section "Signature scheme"."""
    assert signature(SECRET, event_id, timestamp, body) != EXPECTED


def test_during_a_change_of_secrets_each_of_them_signs() -> None:
    """Section "Webhook headers": a list apart by spaces, any one of which is enough."""
    other = new_signing_secret()
    fields = header_fields([other, SECRET], EVENT_ID, TIMESTAMP, BODY)
    assert fields["webhook-id"] == EVENT_ID
    assert fields["webhook-timestamp"] == "1614265330"
    first, second = fields["webhook-signature"].split(" ")
    assert (first, second) == (signature(other, EVENT_ID, TIMESTAMP, BODY), EXPECTED)


def test_a_new_secret_is_random_and_of_a_length_that_receivers_take() -> None:
    """Table of section "Signature scheme": 24 to 64 bytes, base64 after "whsec_"."""
    made = {new_signing_secret() for _ in range(50)}
    assert len(made) == 50
    for secret in made:
        assert secret.startswith("whsec_")
        assert 24 <= len(base64.b64decode(secret[6:], validate=True)) <= 64


@pytest.mark.parametrize(
    "secret",
    ["", "whsec_", "whsec_c2hvcnQ=", "whsec_" + base64.b64encode(b"x" * 65).decode(), "whsec_*"],
)
def test_what_is_no_secret_signs_nothing(secret: str) -> None:
    """Too short, too long, or not base64."""
    with pytest.raises(ValueError, match="a secret"):
        key_of(secret)
