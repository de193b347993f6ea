"""Reports of mail servers: those that RFC 3464 and RFC 5965 give as examples, and ones about an
email of ours.

The addresses of the examples are invented; every other field is as it stands there.
"""

SIMPLE = """\
Reporting-MTA: dns; mail.rowanmere.example

Original-Recipient: rfc822;louis@larches.example
Final-Recipient: rfc822;louis@larches.example
Action: failed
Status: 4.0.0
Diagnostic-Code: smtp; 426 connection timed out
Last-Attempt-Date: Thu, 7 Jul 1994 17:15:49 -0400
"""
TO_SEVERAL = """\
Reporting-MTA: dns; mail.rowanmere.example

Original-Recipient: rfc822;arathi@vines.example
Final-Recipient: rfc822;arathi@vines.example
Action: failed
Status: 5.0.0 (permanent failure)
Diagnostic-Code: smtp; 550 'arathi@vines.example' is not a
 registered gateway user
Remote-MTA: dns; vines.example

Original-Recipient: rfc822;john@hills.example
Final-Recipient: rfc822;john@hills.example
Action: delayed
Status: 4.0.0 (hills.example: host name lookup failure)

Original-Recipient: rfc822;wanda@shore.example
Final-Recipient: rfc822;wanda@shore.example
Action: failed
Status: 5.0.0
Diagnostic-Code: smtp; 550 user unknown
Remote-MTA: dns; shore.example
"""
OF_A_GATEWAY = """\
Reporting-MTA: mailbus; SYS30

Final-Recipient: unknown; nair_s
Status: 5.0.0 (unknown permanent failure)
Action: failed
"""
DELAYED = """\
Reporting-MTA: dns; sun2.relay.example

Final-Recipient: rfc822;thomas@moor.example
Status: 4.0.0 (unknown temporary failure)
Action: delayed
"""
MINIMAL_FEEDBACK = """\
Feedback-Type: abuse
User-Agent: SomeGenerator/1.0
Version: 1
"""
FULL_FEEDBACK = """\
Feedback-Type: abuse
User-Agent: SomeGenerator/1.0
Version: 1
Original-Mail-From: <sender@lessons.example>
Original-Rcpt-To: <user@shore.example>
Arrival-Date: Thu, 8 Mar 2005 14:00:00 EDT
Reporting-MTA: dns; mail.shore.example
Source-IP: 192.0.2.1
Authentication-Results: mail.shore.example;
               spf=fail smtp.mail=sender@lessons.example
Reported-Domain: lessons.example
Reported-Uri: http://lessons.example/earn_money.html
Reported-Uri: mailto:user@shore.example
Removal-Recipient: user@shore.example
"""
RETURNED = """\
Return-Path: <sender@lessons.example>
From: <sender@lessons.example>
Received: from mail.lessons.example (mail.lessons.example [192.0.2.1])
 by shore.example with ESMTP id M63d4137594e46; Thu, 08 Mar 2005 14:00:00 -0400
To: <Undisclosed Recipients>
Subject: Earn money
MIME-Version: 1.0
Content-type: text/plain
Message-ID: <8787KJKJ3K4J3K4J3K4J3.mail@lessons.example>
Date: Thu, 02 Sep 2004 12:31:03 -0500

Spam Spam Spam
"""


def report(
    status: str,
    *,
    kind: str = "delivery-status",
    returned: str = RETURNED,
    returned_as: str = "message/rfc822",
    head: str = "Return-Path: <>\n",
    to: str = "bounces@lessons.example",
) -> bytes:
    """The whole report: words for people, the fields for machines, the returned email."""
    parts = [("text/plain; charset=us-ascii", "Your email was not delivered.\n")]
    parts.append((f"message/{kind}", status))
    if returned:
        parts.append((returned_as, returned))
    written = "".join(f"--b1\nContent-Type: {type_}\n\n{text}\n" for type_, text in parts)
    whole = (
        f"{head}From: Mail Delivery Subsystem <MAILER-DAEMON@mail.shore.example>\nTo: <{to}>\n"
        "Subject: Returned mail\nAuto-Submitted: auto-replied\nMIME-Version: 1.0\n"
        f'Content-Type: multipart/report; report-type={kind};\n boundary="b1"\n\n{written}--b1--\n'
    )
    return whole.replace("\n", "\r\n").encode()


def complaint(fields: str = MINIMAL_FEEDBACK, **changes: str) -> bytes:
    """The whole feedback report about an email."""
    return report(fields, kind="feedback-report", **{"head": "", **changes})
