"""Email addresses as they are stored: one spelling for one mailbox."""

import pytest

from bookings.domain.addresses import in_ascii, mail_address
from bookings.domain.errors import Refused

SAME = {
    "ROBIN@Marsh.Example": "robin@marsh.example",
    " robin@marsh.example ": "robin@marsh.example",
    "robin@ｍarsh.example": "robin@marsh.example",
    "robin@marsh。example": "robin@marsh.example",
    "robin@mar\u00adsh.example": "robin@marsh.example",
    "robin@ma\u0308rsh.example": "robin@märsh.example",
    "ro\u0308bin@marsh.example": "röbin@marsh.example",
    "robin@straße.example": "robin@straße.example",
    "robin@[192.0.2.1]": "robin@[192.0.2.1]",
}


@pytest.mark.parametrize("typed", SAME, ids=ascii)
def test_one_mailbox_has_one_spelling(typed: str) -> None:
    """RFC 5890 and RFC 3491: mail maps a domain before it asks for it, so these are one domain."""
    assert mail_address(typed) == SAME[typed]
    assert mail_address(SAME[typed]) == SAME[typed]


@pytest.mark.parametrize("sign", ["＠", "／", "，", "：", "＜", "\u3000", "_", "\u2028"], ids=ascii)
def test_a_domain_that_would_be_mailed_with_other_signs_is_refused(sign: str) -> None:
    """Mail writes a wide @ as @: two addresses, or a header that says something else."""
    with pytest.raises(Refused, match="No email reaches that domain"):
        mail_address(f"robin@reed{sign}marsh.example")


def test_a_domain_in_ascii_is_what_mail_carries() -> None:
    """RFC 5890, A-label."""
    assert in_ascii(mail_address("robin@Märsh.example")) == "robin@xn--mrsh-loa.example"
