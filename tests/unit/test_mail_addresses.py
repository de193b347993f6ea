"""Email addresses as they are stored: one spelling for one mailbox."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bookings.domain.addresses import in_ascii, known_as, mail_address
from bookings.domain.errors import Refused

SAME = {
    "ROBIN@Marsh.Example": "robin@marsh.example",
    " robin@marsh.example ": "robin@marsh.example",
    "robin@ｍarsh.example": "robin@marsh.example",
    "robin@marsh。example": "robin@marsh.example",
    "robin@mar\u00adsh.example": "robin@marsh.example",
    "robin@ma\u0308rsh.example": "robin@märsh.example",
    "ro\u0308bin@marsh.example": "röbin@marsh.example",
    "robin@xn--mrsh-loa.example": "robin@märsh.example",
    "robin@XN--MRSH-LOA.Example": "robin@märsh.example",
    "robin@post.xn--mrsh-loa.example": "robin@post.märsh.example",
    # RFC 3490 writes ß as ss, and mail goes there. RFC 5891 has a domain with ß of its own: no
    # letters lead to it by RFC 3490, and so it stays as mail carries it.
    "robin@straße.example": "robin@strasse.example",
    "robin@xn--strae-oqa.example": "robin@xn--strae-oqa.example",
    "robin@xn--.example": "robin@xn--.example",
    "robin@xn--zzzz-zzzz-9.example": "robin@xn--zzzz-zzzz-9.example",
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


@given(st.from_regex(r"(xn--)?\w[\w-]{0,9}\w", fullmatch=True))
def test_what_mail_carries_is_the_same_address(label: str) -> None:
    """Whoever types the domain as mail carries it means the same mailbox."""
    try:
        address = mail_address(f"robin@{label}.example")
    except Refused:
        return
    assert mail_address(address) == address
    assert mail_address(in_ascii(address)) == address


@pytest.mark.parametrize("typed", ["", "robin", "robin@", "robin@a_b.example", "@"])
def test_what_is_no_address_is_looked_up_as_it_was_typed(typed: str) -> None:
    """Nobody has it, and nobody is told why."""
    assert known_as(typed) == typed
