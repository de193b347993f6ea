"""The data map of messages, feeds, the audit, plans and statements."""

from typing import Final

from bookings.queries.data_map.table import Erased, Table

RECORDS: Final = (
    Table(
        model="bookings.OutboxMessage",
        ends="email-texts email-addresses",
        stays="Without text or address it keeps an email from leaving twice.",
        name="emails",
        account="recipient",
        erased=Erased.BY_HAND,
        told={
            "id": "a number",
            "kind": "the kind of email",
            "made_at": "when it was written",
            "sent_at": "when it was sent",
            "state": "whether it has left",
        },
        goes={"to_address": "the address it went to", "title": "its title"},
        secret={
            "body": "its text; it may hold a link that signs somebody in",
            "calendar": "its calendar part",
        },
        plain="recipient webhook subject_key state_key meeting sequence method message_id due_at "
        "good_until attempts leased_until waits_since held_since returned_at last_error",
    ),
    Table(
        model="bookings.EmailTrouble",
        until="The address is reached again, or 60 days after a trouble that passed.",
        name="email_troubles",
        account="owner",
        erased=Erased.DELETED,
        told={
            "id": "a number",
            "why": "why no email is sent to the address",
            "status": "the code that a mail server gave",
            "last_on": "on which day it was last reported",
            "marked_at": "since when no email is sent",
        },
        goes={"address": "the email address that cannot be reached"},
        plain="owner days told_at",
    ),
    Table(
        model="bookings.SentSequence",
        ends="sequences",
        account="recipient",
        erased=Erased.DELETED,
        plain="id meeting recipient sequence",
    ),
    Table(
        model="bookings.LastAnswer",
        ends="calendar-answers",
        account="recipient",
        erased=Erased.DELETED,
        plain="id meeting recipient sequence stamp hour_began in_hour",
    ),
    Table(
        model="bookings.Feed",
        ends="feeds",
        name="calendar_addresses",
        account="owner",
        erased=Erased.DELETED,
        told={
            "id": "a number",
            "label": "its name",
            "kind": "what it shows",
            "names_children": "whether it names children",
            "opened_at": "since when",
            "revoked_at": "when it was revoked",
            "fetched_at": "when a calendar last asked",
        },
        secret={"secret_digest": "a digest of its secret"},
        plain="owner meeting instructor uid revision revised_at version",
    ),
    Table(
        model="bookings.KeptAnswer",
        ends="kept-answers",
        account="user",
        erased=Erased.BY_HAND,
        secret={"body": "the stored answer to a program", "path": "what it asked"},
        plain="id user method key fingerprint status headers made_at",
    ),
    Table(
        model="bookings.PeopleFile",
        until="It is brought in, or an hour has passed: the work of each minute deletes it.",
        account="kept_by",
        erased=Erased.BY_HAND,
        secret={"sealed_text": "names and addresses in a file that waits for an hour"},
        sealed="sealed_text",
        plain="id kept_by kept_at encoding",
    ),
    Table(
        model="bookings.AuditRow",
        stays="It proves who acted, and the database never changes one: ids and verbs, no words.",
        others={"actor": "who acted, by number"},
        plain="id token at verb thing thing_id fields",
    ),
    Table(
        model="bookings.AuditReason",
        ends="reasons",
        erased=Erased.BY_HAND,
        secret={"text": "an admin’s own sentence"},
        plain="id row",
    ),
    Table(
        model="bookings.PrivacyRequest",
        stays="It proves an erasure, and a restore erases again by it: ids and instants.",
        name="privacy_requests",
        student="student",
        told={
            "id": "a number",
            "kind": "erasure or access",
            "student": "about whom",
            "asked_at": "when it was asked",
            "approved_at": "when an admin approved it",
            "ended_at": "when it ended",
            "ended_how": "how it ended",
        },
        others={"asked_by": "who asked", "approved_by": "who approved"},
        plain="was_here",
    ),
    Table(
        model="bookings.ServiceToken",
        stays="It explains who acted in the audit: a name of a program, no words of people.",
        others={"made_by": "the admin who made it"},
        plain="id name digest begins scopes made_at expires_at last_used_on revoked_at",
    ),
    Table(
        model="bookings.Webhook",
        until="An admin removes it.",
        others={"made_by": "the admin who made it"},
        sealed="sealed_secret sealed_old_secret",
        plain="id name address kinds key sealed_secret sealed_old_secret old_until made_at "
        "paused_at paused_why failures waits_until version",
    ),
    # Ids of events and statuses of answers: they name nobody.
    Table(
        model="bookings.WebhookAttempt",
        ends="deliveries",
        plain="id webhook event_id kind number at status problem milliseconds",
    ),
    # A plan holds ids, hours and costs in numbers: without the student's row they name nobody.
    Table(
        model="bookings.Plan",
        ends="plans",
        others={"instructor": "whose plan", "made_by": "who asked", "ended_by": "who ended it"},
        plain="id kind state asked seen answer progress gap failure made_at answer_by "
        "closed_at stop_asked_at leased_until attempts solved_at ended_at version",
    ),
    Table(
        model="bookings.CoverQuestion",
        ends="cover-questions",
        others={"instructor": "who was asked"},
        plain="id plan meeting starts_at asked_at says_yes answered_at",
    ),
    Table(
        model="bookings.Exchange",
        ends="exchanges",
        plain="id plan term made_at answer_by ended_at ended_why",
    ),
    Table(
        model="bookings.Statement",
        stays="A book: the database never changes one.",
        others={"instructor": "whose hours", "issued_by": "who issued it"},
        plain="id first_on last_on issued_at",
    ),
    Table(
        model="bookings.StatementCorrection",
        stays="A book: the database never changes one.",
        others={"made_by": "who corrected it"},
        plain="id statement number made_at",
    ),
    # A line names a meeting by id and nobody by name, so that it adds up after an erasure.
    Table(
        model="bookings.StatementLine",
        stays="A book: the database never changes one.",
        plain="id statement position correction is_counter meeting starts_at wall_on time_zone "
        "kind booked_minutes outcome counted_minutes total_minutes",
    ),
)
