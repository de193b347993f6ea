"""Authentication-Results: the examples of RFC 8601 appendix B, the forms in which large hosts write
it, and forgeries.
"""

import pytest

from bookings.calendars.authentication import MOST_BYTES, vouches_for

US = "mx.rowanmere.example"

# RFC 8601 appendix B.3 to B.6, the server's name and domains as printed.
B3 = "example.com; spf=pass smtp.mailfrom=example.net"
B4 = (
    "example.com; auth=pass (cram-md5) smtp.auth=sender@example.net; spf=pass "
    "smtp.mailfrom=example.net"
)
B5 = (
    "example.com; dkim=pass header.d=example.com; dkim=fail reason=bad header.d=newyork.example.com"
)
B6 = (
    'example.com;\r\n dkim=pass reason="good signature"\r\n  header.i=@mail-router.example.net;\r\n'
    ' dkim=fail reason="bad signature"\r\n  header.i=@newyork.example.com'
)
B7 = (
    "foo.example.net (foobar) 1 (baz);\r\n"
    " dkim (Because I like it) / 1 (One yay) = (wait for it) fail\r\n"
    " policy (A dot can go here) . (like that) expired\r\n"
    " (this surprised me) = (as I wasn't expecting it) 1362471462"
)


@pytest.mark.parametrize(
    ("result", "server", "domain", "is_sure"),
    [
        (B3, "example.com", "example.net", True),
        (B4, "example.com", "example.net", True),
        (B5, "example.com", "example.com", True),
        (B5, "example.com", "newyork.example.com", False),
        (B6, "example.com", "mail-router.example.net", True),
        (B6, "example.com", "newyork.example.com", False),
        (B7, "foo.example.net", "example.net", False),
        ("example.org 1; none", "example.org", "example.org", False),
    ],
)
def test_the_printed_examples(result: str, server: str, domain: str, is_sure: bool) -> None:
    """RFC 8601 appendix B, with comments, folds, versions and reasons."""
    assert vouches_for(domain, [result], authserv_id=server) is is_sure


@pytest.mark.parametrize(
    "result",
    [
        "dmarc=pass (p=NONE sp=QUARANTINE dis=NONE) header.from=family.example",
        (
            "dkim=pass header.i=@family.example header.s=k1 header.b=x1; spf=none "
            "smtp.mailfrom=other.example"
        ),
        (
            "dkim=pass (signature was verified) header.d=family.example;dmarc=pass action=none "
            "header.from=family.example"
        ),
        "spf=pass (sender IP is 192.0.2.1) smtp.mailfrom=noor@family.example smtp.helo=a.example",
        "dmarc=pass (a \\) (nested; dmarc=fail) comment) header . from = FAMILY.example.",
        "arc=fail; dkim=fail header.d=other.example; dkim=pass header.d=family.example; dmarc=none",
    ],
)
def test_a_pass_for_the_domain_is_enough(result: str) -> None:
    """DMARC, or DKIM or SPF for the very domain of From. Forms as large hosts write them, with
    invented names.
    """
    assert vouches_for("family.example", [f"{US}; {result}"], authserv_id=US)
    assert vouches_for("Family.example", [f"{US} 1;{result}"], authserv_id=US.upper())


@pytest.mark.parametrize(
    "result",
    [
        "",
        "none",
        "dmarc=pass",
        "dmarc=pass header.from=evil.example",
        "dmarc=pass header.from=family.example.evil.example",
        "dmarc=pass header.from=family.example header.from=evil.example",
        "dmarc=fail header.from=family.example; dkim=pass header.d=family.example",
        "dkim=pass header.d=evil.example header.i=@family.example",
        "dkim=pass header.d=mail.family.example",
        "dkim=fail header.d=family.example",
        "dkim=neutral (dmarc=pass header.from=family.example) header.d=family.example",
        "spf=pass smtp.helo=family.example",
        "spf=softfail smtp.mailfrom=family.example",
        'spf=pass smtp.mailfrom="a; dmarc=pass header.from=family.example; x"@evil.example',
        'spf=pass smtp.mailfrom="a@family.example',
        "auth=pass smtp.auth=noor@family.example",
        "dmarc=pass (header.from=family.example",
        "dmarc=passed header.from=family.example",
    ],
)
def test_anything_less_is_not(result: str) -> None:
    """No result, another domain, another property, a contradiction, or words inside comments and
    quotes.
    """
    assert not vouches_for("family.example", [f"{US}; {result}"], authserv_id=US)


def test_only_the_topmost_result_of_the_trusted_server_counts() -> None:
    """RFC 8601 section 5: what stands below was in the mail before that server had it, and other
    names are nobody's.
    """
    good, bad = f"{US}; dmarc=pass header.from=a.example", f"{US}; none"
    other = "mx.evil.example; dmarc=pass header.from=a.example"
    assert vouches_for("a.example", [other, good, bad], authserv_id=US)
    assert not vouches_for("a.example", [bad, good], authserv_id=US)
    assert not vouches_for("a.example", [other], authserv_id=US)
    assert not vouches_for(
        "a.example", [f"{US} 2; dmarc=pass header.from=a.example"], authserv_id=US
    )


@pytest.mark.parametrize("run", [*'();=."\\ \t@a', "a=b ", " = ", "(a)", '"a"', "dmarc=pass "])
def test_a_long_result_costs_little_and_says_nothing(run: str) -> None:
    """Over the limit nothing is believed, whatever it begins with."""
    result = f"{US}; dmarc=pass header.from=a.example; {run * (MOST_BYTES * 10 // len(run))}"
    assert not vouches_for("a.example", [result], authserv_id=US)
