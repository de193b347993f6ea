-- The statements of one booking, between BEGIN and COMMIT. A test holds them to what a booking
-- sends: the same statements in the same order, each with the same tables and columns. $names are
-- filled in for each booking; :meeting_id and :booking_id are what the INSERTs returned. The words
-- and the calendars of the four messages are those of one booking.

SELECT "accounts_instructor"."id" AS "pk" FROM "accounts_instructor" WHERE
    ("accounts_instructor"."id" IN ($instructor) OR "accounts_instructor"."user_id" IN
    ($student_user)) ORDER BY 1 ASC FOR NO KEY UPDATE;

SELECT "accounts_student"."id" AS "pk" FROM "accounts_student" WHERE "accounts_student"."id" IN
    ($student) ORDER BY 1 ASC FOR NO KEY UPDATE;

SELECT "accounts_student"."id", "accounts_student"."user_id", "accounts_student"."own_name",
    "accounts_student"."level", "accounts_student"."unit", "accounts_student"."adult_on",
    "accounts_student"."is_active", "accounts_student"."regular_instructor_id",
    "accounts_student"."own_time_zone", "accounts_user"."id", "accounts_user"."password",
    "accounts_user"."last_login", "accounts_user"."is_superuser", "accounts_user"."email",
    "accounts_user"."name", "accounts_user"."time_zone", "accounts_user"."is_active",
    "accounts_user"."is_staff", "accounts_user"."joined_at", "accounts_user"."session_epoch" FROM
    "accounts_student" LEFT OUTER JOIN "accounts_user" ON ("accounts_student"."user_id" =
    "accounts_user"."id") WHERE "accounts_student"."id" IN ($student) ORDER BY
    "accounts_student"."id" ASC;

SELECT "accounts_instructor"."id", "accounts_instructor"."user_id",
    "accounts_instructor"."is_active", "accounts_instructor"."room", "accounts_user"."id",
    "accounts_user"."password", "accounts_user"."last_login", "accounts_user"."is_superuser",
    "accounts_user"."email", "accounts_user"."name", "accounts_user"."time_zone",
    "accounts_user"."is_active", "accounts_user"."is_staff", "accounts_user"."joined_at",
    "accounts_user"."session_epoch", "bookings_teachingweek"."id",
    "bookings_teachingweek"."instructor_id", "bookings_teachingweek"."time_zone",
    "bookings_teachingweek"."version", "bookings_teachingweek"."changed_at",
    "bookings_teachingweek"."keeps_hours_whole" FROM "accounts_instructor" INNER JOIN
    "bookings_teaches" ON ("accounts_instructor"."id" = "bookings_teaches"."instructor_id") INNER
    JOIN "accounts_user" ON ("accounts_instructor"."user_id" = "accounts_user"."id") LEFT OUTER JOIN
    "bookings_teachingweek" ON ("accounts_instructor"."id" =
    "bookings_teachingweek"."instructor_id") WHERE ("accounts_instructor"."is_active" AND
    "bookings_teaches"."highest_level" >= $level AND "bookings_teaches"."lowest_level" <= $level AND
    "bookings_teaches"."offering_id" = $offering AND "accounts_user"."is_active" AND
    "accounts_instructor"."id" = $instructor) ORDER BY "accounts_instructor"."id" ASC;

SELECT "bookings_studiopolicy"."id", "bookings_studiopolicy"."version",
    "bookings_studiopolicy"."in_force_from", "bookings_studiopolicy"."lead_time_minutes",
    "bookings_studiopolicy"."horizon_days", "bookings_studiopolicy"."notice_minutes",
    "bookings_studiopolicy"."open_consultations",
    "bookings_studiopolicy"."changeover_short_minutes",
    "bookings_studiopolicy"."changeover_long_minutes", "bookings_studiopolicy"."minor_opens",
    "bookings_studiopolicy"."minor_closes", "bookings_studiopolicy"."run_minutes",
    "bookings_studiopolicy"."run_gap_minutes", "bookings_studiopolicy"."day_minutes",
    "bookings_studiopolicy"."week_minutes", "bookings_studiopolicy"."night_rest_minutes",
    "bookings_studiopolicy"."make_ups_a_term", "bookings_studiopolicy"."make_up_use_by_days" FROM
    "bookings_studiopolicy" WHERE "bookings_studiopolicy"."in_force_from" <= $now ORDER BY
    "bookings_studiopolicy"."version" DESC LIMIT 1;

(SELECT 'taught' AS "value1", "bookings_meeting"."instructor_id" AS "instructor_id",
    "bookings_meeting"."starts_at" AS "starts_at", "bookings_meeting"."ends_at" AS "ends_at",
    "bookings_meeting"."held_until" AS "held_until", NULL AS "value2", NULL AS "value3", NULL AS
    "value4" FROM "bookings_meeting" WHERE (NOT ("bookings_meeting"."status" = 'CANCELLED') AND
    "bookings_meeting"."held_until" > $load_since AND "bookings_meeting"."starts_at" > $load_reach
    AND "bookings_meeting"."starts_at" < $load_until AND "bookings_meeting"."instructor_id" IN
    ($instructor))) UNION ALL (SELECT 'weekly' AS "value1", "bookings_teachingweek"."instructor_id"
    AS "week__instructor_id", "bookings_teachingweek"."changed_at" AS "f1",
    "bookings_teachingweek"."changed_at" AS "f2", "bookings_teachingweek"."changed_at" AS "f3",
    (("bookings_teachinghours"."weekday" * 1440) + "bookings_teachinghours"."opens") AS
    "combinedexpression3", (("bookings_teachinghours"."weekday" * 1440) +
    "bookings_teachinghours"."closes") AS "combinedexpression4", "bookings_teachingweek"."time_zone"
    AS "week__time_zone" FROM "bookings_teachinghours" INNER JOIN "bookings_teachingweek" ON
    ("bookings_teachinghours"."week_id" = "bookings_teachingweek"."id") WHERE
    "bookings_teachingweek"."instructor_id" IN ($instructor)) UNION ALL (SELECT 'extra' AS "value1",
    "bookings_extrahours"."instructor_id" AS "instructor_id", "bookings_extrahours"."on" AS "f1",
    "bookings_extrahours"."on" AS "f2", "bookings_extrahours"."on" AS "f3",
    "bookings_extrahours"."opens" AS "opens", "bookings_extrahours"."closes" AS "closes",
    "bookings_extrahours"."time_zone" AS "time_zone" FROM "bookings_extrahours" WHERE
    "bookings_extrahours"."instructor_id" IN ($instructor)) UNION ALL (SELECT 'away' AS "value1",
    "bookings_daysaway"."instructor_id" AS "instructor_id", "bookings_daysaway"."first_on" AS "f1",
    "bookings_daysaway"."last_on" AS "f2", "bookings_daysaway"."last_on" AS "f3",
    "bookings_daysaway"."from_minute" AS "from_minute", "bookings_daysaway"."to_minute" AS
    "to_minute", "bookings_daysaway"."time_zone" AS "time_zone" FROM "bookings_daysaway" WHERE
    "bookings_daysaway"."instructor_id" IN ($instructor)) UNION ALL (SELECT 'learnt' AS "value1",
    "accounts_instructor"."id" AS "student__user__instructor", "bookings_booking"."starts_at" AS
    "starts_at", "bookings_booking"."ends_at" AS "ends_at", "bookings_booking"."ends_at" AS "f1",
    NULL AS "value2", NULL AS "value3", NULL AS "value4" FROM "bookings_booking" INNER JOIN
    "accounts_student" ON ("bookings_booking"."student_id" = "accounts_student"."id") INNER JOIN
    "accounts_user" ON ("accounts_student"."user_id" = "accounts_user"."id") INNER JOIN
    "accounts_instructor" ON ("accounts_user"."id" = "accounts_instructor"."user_id") WHERE
    ("bookings_booking"."standing" = 'HELD' AND "bookings_booking"."ends_at" > $load_since AND
    "bookings_booking"."starts_at" > $load_reach AND "bookings_booking"."starts_at" < $load_until
    AND "accounts_instructor"."id" IN ($instructor))) UNION ALL (SELECT 'allowed' AS "value1",
    "bookings_loadallowance"."instructor_id" AS "instructor_id",
    "bookings_loadallowance"."starts_at" AS "starts_at", "bookings_loadallowance"."starts_at" AS
    "f1", "bookings_loadallowance"."starts_at" AS "f2", NULL AS "value2", NULL AS "value3", NULL AS
    "value4" FROM "bookings_loadallowance" WHERE ("bookings_loadallowance"."instructor_id" IN
    ($instructor) AND "bookings_loadallowance"."starts_at" >= $load_since AND
    "bookings_loadallowance"."starts_at" < $load_until)) UNION ALL (SELECT 'busy' AS "value1",
    "accounts_instructor"."id" AS "calendar__owner__instructor", "bookings_busyperiod"."starts_at"
    AS "starts_at", "bookings_busyperiod"."ends_at" AS "ends_at", "bookings_busyperiod"."ends_at" AS
    "f1", NULL AS "value2", NULL AS "value3", NULL AS "value4" FROM "bookings_busyperiod" INNER JOIN
    "bookings_busycalendar" ON ("bookings_busyperiod"."calendar_id" = "bookings_busycalendar"."id")
    INNER JOIN "accounts_user" ON ("bookings_busycalendar"."owner_id" = "accounts_user"."id") INNER
    JOIN "accounts_instructor" ON ("accounts_user"."id" = "accounts_instructor"."user_id") WHERE
    ("accounts_instructor"."id" IN ($instructor) AND "bookings_busyperiod"."ends_at" > $busy_since
    AND "bookings_busyperiod"."starts_at" < $busy_until));

(SELECT 'taken' AS "value1", "bookings_booking"."starts_at" AS "starts_at",
    "bookings_booking"."ends_at" AS "ends_at", 0 AS "value2", 0 AS "value3" FROM "bookings_booking"
    WHERE ("bookings_booking"."standing" = 'HELD' AND "bookings_booking"."ends_at" > $day_since AND
    "bookings_booking"."starts_at" > $day_reach AND "bookings_booking"."starts_at" < $day_until AND
    "bookings_booking"."student_id" = $student)) UNION ALL (SELECT 'heard' AS "value1",
    "bookings_assessment"."released_at" AS "released_at", "bookings_assessment"."released_at" AS
    "f1", "bookings_assessment"."author_id" AS "author_id", "bookings_assessment"."id" AS "pk" FROM
    "bookings_assessment" WHERE "bookings_assessment"."id" IN (SELECT U0."id" AS "pk" FROM
    "bookings_assessment" U0 WHERE (U0."state" = 'released' AND U0."student_id" = $student) ORDER BY
    U0."released_at" DESC, U0."id" DESC LIMIT 1)) UNION ALL (SELECT 'taken' AS "value1",
    "bookings_meeting"."starts_at" AS "starts_at", "bookings_meeting"."held_until" AS "held_until",
    0 AS "value2", 0 AS "value3" FROM "bookings_meeting" INNER JOIN "accounts_instructor" ON
    ("bookings_meeting"."instructor_id" = "accounts_instructor"."id") WHERE (NOT
    ("bookings_meeting"."status" = 'CANCELLED') AND "bookings_meeting"."held_until" > $day_since AND
    "bookings_meeting"."starts_at" > $day_reach AND "bookings_meeting"."starts_at" < $day_until AND
    "accounts_instructor"."user_id" = $student_user)) UNION ALL (SELECT 'busy' AS "value1",
    "bookings_busyperiod"."starts_at" AS "starts_at", "bookings_busyperiod"."ends_at" AS "ends_at",
    0 AS "value2", 0 AS "value3" FROM "bookings_busyperiod" INNER JOIN "bookings_busycalendar" ON
    ("bookings_busyperiod"."calendar_id" = "bookings_busycalendar"."id") WHERE
    ("bookings_busycalendar"."student_id" = $student AND "bookings_busyperiod"."ends_at" >
    $day_since AND "bookings_busyperiod"."starts_at" < $day_until)) UNION ALL (SELECT 'busy' AS
    "value1", "bookings_busyperiod"."starts_at" AS "starts_at", "bookings_busyperiod"."ends_at" AS
    "ends_at", 0 AS "value2", 0 AS "value3" FROM "bookings_busyperiod" INNER JOIN
    "bookings_busycalendar" ON ("bookings_busyperiod"."calendar_id" = "bookings_busycalendar"."id")
    WHERE ("bookings_busycalendar"."owner_id" = $student_user AND "bookings_busyperiod"."ends_at" >
    $day_since AND "bookings_busyperiod"."starts_at" < $day_until)) UNION ALL (SELECT 'open' AS
    "value1", "bookings_booking"."starts_at" AS "starts_at", "bookings_booking"."ends_at" AS
    "ends_at", 0 AS "value2", 0 AS "value3" FROM "bookings_booking" INNER JOIN "bookings_meeting" ON
    ("bookings_booking"."meeting_id" = "bookings_meeting"."id") INNER JOIN "bookings_offering" ON
    ("bookings_meeting"."offering_id" = "bookings_offering"."id") WHERE
    ("bookings_booking"."student_id" = $student AND "bookings_booking"."standing" = 'HELD' AND
    "bookings_booking"."starts_at" > $now AND "bookings_offering"."kind" = 'consultation'));

INSERT INTO "bookings_meeting" ("uid", "offering_id", "instructor_id", "title", "status",
    "is_proposed", "wall_on", "wall_at", "fold", "time_zone", "minutes", "starts_at", "ends_at",
    "held_until", "tzdata_version", "is_flagged", "flagged_why", "organizer", "join_address",
    "places", "taken", "listener_places", "listeners_taken", "minimum", "decide_by", "lowest_level",
    "highest_level", "players_are_chosen", "choice_closed_at", "sequence", "version", "made_at",
    "changed_at", "called_off_why", "weekly_place_id") VALUES ($uid, $offering, $instructor, '',
    'CONFIRMED', false, $wall_on, $wall_at, $fold, $time_zone, 25, $starts_at, $ends_at,
    $held_until, '2026f', false, '', 'lessons@rowanmere.example',
    'https://rooms.rowanmere.example/instructor', 1, 1, 0, 0, NULL, NULL, 1, 10, false, NULL, 0, 1,
    $now, $now, '', NULL) RETURNING "bookings_meeting"."id" \gset meeting_

INSERT INTO "bookings_booking" ("meeting_id", "student_id", "place_kind", "standing", "starts_at",
    "ends_at", "is_flagged", "policy_id", "booked_by_id", "booked_at", "answer_by",
    "waiting_place_id", "proposed_id", "makes_up_id", "decline_by", "assessment_id", "leaves_by",
    "turn", "turn_minutes", "turn_early", "burden", "partstat", "ended_at", "ended_why", "version")
    VALUES (:meeting_id, $student, 'player', 'HELD', $starts_at, $ends_at, false, $policy,
    $student_user, $now, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, NULL, '', NULL, 'ACCEPTED',
    NULL, '', 1) RETURNING "bookings_booking"."id" \gset booking_

INSERT INTO "bookings_auditrow" ("at", "actor_id", "token_id", "verb", "thing", "thing_id",
    "fields") VALUES ($now, $student_user, NULL, 'booked', 'booking', :booking_id, '[]'::jsonb)
    RETURNING "bookings_auditrow"."id";

SELECT "bookings_webhook"."id" AS "pk", "bookings_webhook"."kinds" AS "kinds" FROM
    "bookings_webhook" WHERE "bookings_webhook"."paused_at" IS NULL ORDER BY "bookings_webhook"."id"
    ASC;

INSERT INTO "bookings_outboxmessage" ("recipient_id", "webhook_id", "kind", "subject_key",
    "state_key", "meeting_id", "sequence", "to_address", "title", "body", "calendar", "method",
    "message_id", "made_at", "due_at", "good_until", "state", "attempts", "leased_until", "sent_at",
    "waits_since", "held_since", "returned_at", "last_error") SELECT * FROM UNNEST(
ARRAY[$student_user, $student_user, $student_user, $instructor_user]::bigint[],
('{NULL,NULL,NULL,NULL}')::bigint[],
('{invitation,reminder-24h,reminder-1h,invitation}')::varchar[],
ARRAY['meeting:' || :meeting_id, 'meeting:' || :meeting_id, 'meeting:' || :meeting_id,
    'meeting:' || :meeting_id]::varchar[],
('{sequence:0,sequence:0,sequence:0,sequence:0}')::varchar[],
ARRAY[:meeting_id, :meeting_id, :meeting_id, :meeting_id]::bigint[],
('{0,NULL,NULL,0}'::int4[])::integer[],
('{s1787@rowanmere.example,s1787@rowanmere.example,s1787@rowanmere.example,
instructor.3.4@rowanmere.example}')::varchar[],
('{"Booked: Consultation with I. 3, Fri 4 December 11:30, Dublin",
"Soon: Consultation with I. 3, Fri 4 December 11:30, Dublin",
"In an hour: Consultation with I. 3, Fri 4 December 11:30, Dublin",
"Booked: Consultation, Fri 4 December 22:30, Lord Howe"}')::varchar[],
('{"Dear Student 1787,

You have a place: Consultation with I. 3.

  Friday 4 December 2026, 11:30–11:55, Dublin
  Friday 4 December 2026, 22:30–22:55, Lord Howe (Instructor’s clock)

Join here: https://rooms.rowanmere.example/instructor

You can cancel free of charge until Thursday 3 December, 11:30 (Dublin).

To see or change your bookings: http://localhost:8000/my-lessons/

Rowanmere Online Harp School
","Dear Student 1787,

Your lesson is near: Consultation with I. 3.

  Friday 4 December 2026, 11:30–11:55, Dublin
  Friday 4 December 2026, 22:30–22:55, Lord Howe (Instructor’s clock)

Join here: https://rooms.rowanmere.example/instructor

To see or change your bookings: http://localhost:8000/my-lessons/

Rowanmere Online Harp School
","Dear Student 1787,

Your lesson is near: Consultation with I. 3.

  Friday 4 December 2026, 11:30–11:55, Dublin
  Friday 4 December 2026, 22:30–22:55, Lord Howe (Instructor’s clock)

Join here: https://rooms.rowanmere.example/instructor

To see or change your bookings: http://localhost:8000/my-lessons/

Rowanmere Online Harp School
","Dear Instructor 3,

Student 1787, level 8, has booked: Consultation.

  Friday 4 December 2026, 22:30–22:55, Lord Howe
  Friday 4 December 2026, 11:30–11:55, Dublin (Student’s clock)

Join here: https://rooms.rowanmere.example/instructor

To see or change your bookings: http://localhost:8000/

Rowanmere Online Harp School
"}')::text[],
(E'{"BEGIN:VCALENDAR\r
VERSION:2.0\r
PRODID:-//Levare//Levare calendars//EN\r
METHOD:REQUEST\r
BEGIN:VTIMEZONE\r
TZID:Australia/Lord_Howe\r
BEGIN:STANDARD\r
DTSTART:20260405T020000\r
TZNAME:+1030\r
TZOFFSETFROM:+1100\r
TZOFFSETTO:+1030\r
END:STANDARD\r
BEGIN:DAYLIGHT\r
DTSTART:20261004T020000\r
TZNAME:+11\r
TZOFFSETFROM:+1030\r
TZOFFSETTO:+1100\r
END:DAYLIGHT\r
END:VTIMEZONE\r
BEGIN:VEVENT\r
SUMMARY:Consultation with I. 3\r
DTSTART;TZID=Australia/Lord_Howe:20261204T223000\r
DTEND;TZID=Australia/Lord_Howe:20261204T225500\r
DTSTAMP:20261129T080000Z\r
UID:c5ca32d7-0155-45c9-af45-deed70ba9f87\r
SEQUENCE:0\r
ATTENDEE;CN=\\"Student 1787\\";PARTSTAT=ACCEPTED;RSVP=FALSE:mailto:s1787@rowan\r
 mere.example\r
CONFERENCE;LABEL=Join;VALUE=URI:https://rooms.rowanmere.example/instructor\r
DESCRIPTION:To see or change your bookings: http://localhost:8000/my-lesso\r
 ns/\r
LOCATION:https://rooms.rowanmere.example/instructor\r
ORGANIZER;CN=\\"Rowanmere Online Harp School\\":mailto:lessons@rowanmere.examp\r
 le\r
STATUS:CONFIRMED\r
TRANSP:OPAQUE\r
END:VEVENT\r
END:VCALENDAR\r
","","","BEGIN:VCALENDAR\r
VERSION:2.0\r
PRODID:-//Levare//Levare calendars//EN\r
METHOD:REQUEST\r
BEGIN:VTIMEZONE\r
TZID:Australia/Lord_Howe\r
BEGIN:STANDARD\r
DTSTART:20260405T020000\r
TZNAME:+1030\r
TZOFFSETFROM:+1100\r
TZOFFSETTO:+1030\r
END:STANDARD\r
BEGIN:DAYLIGHT\r
DTSTART:20261004T020000\r
TZNAME:+11\r
TZOFFSETFROM:+1030\r
TZOFFSETTO:+1100\r
END:DAYLIGHT\r
END:VTIMEZONE\r
BEGIN:VEVENT\r
SUMMARY:Consultation\r
DTSTART;TZID=Australia/Lord_Howe:20261204T223000\r
DTEND;TZID=Australia/Lord_Howe:20261204T225500\r
DTSTAMP:20261129T080000Z\r
UID:c5ca32d7-0155-45c9-af45-deed70ba9f87\r
SEQUENCE:0\r
ATTENDEE;CN=\\"Instructor 3\\";PARTSTAT=ACCEPTED;RSVP=FALSE:mailto:instructor.\r
 3.4@rowanmere.example\r
CONFERENCE;LABEL=Join;VALUE=URI:https://rooms.rowanmere.example/instructor\r
DESCRIPTION:To see or change your bookings: http://localhost:8000/\r
LOCATION:https://rooms.rowanmere.example/instructor\r
ORGANIZER;CN=\\"Rowanmere Online Harp School\\":mailto:lessons@rowanmere.examp\r
 le\r
STATUS:CONFIRMED\r
TRANSP:OPAQUE\r
END:VEVENT\r
END:VCALENDAR\r
"}')::text[],
('{REQUEST,"","",REQUEST}')::varchar[],
ARRAY['<invitation.meeting-' || :meeting_id || '.sequence-0.' || $student_user ||
        '@rowanmere.example>',
    '<reminder-24h.meeting-' || :meeting_id || '.sequence-0.' || $student_user ||
        '@rowanmere.example>',
    '<reminder-1h.meeting-' || :meeting_id || '.sequence-0.' || $student_user ||
        '@rowanmere.example>',
    '<invitation.meeting-' || :meeting_id || '.sequence-0.' || $instructor_user ||
        '@rowanmere.example>']::varchar[],
ARRAY[$now, $now, $now, $now]::timestamptz[],
ARRAY[$now, $day_since, $hour_before, $now]::timestamptz[],
ARRAY[NULL, $starts_at, $starts_at, NULL]::timestamptz[],
('{due,due,due,due}')::varchar[],
('{0,0,0,0}'::int4[])::integer[],
('{NULL,NULL,NULL,NULL}')::timestamp with time zone[],
('{NULL,NULL,NULL,NULL}')::timestamp with time zone[],
('{NULL,NULL,NULL,NULL}')::timestamp with time zone[],
('{NULL,NULL,NULL,NULL}')::timestamp with time zone[],
('{NULL,NULL,NULL,NULL}')::timestamp with time zone[],
('{"","","",""}')::varchar[]) ON CONFLICT DO NOTHING;

INSERT INTO "bookings_sentsequence" ("meeting_id", "recipient_id", "sequence") SELECT * FROM
    UNNEST(ARRAY[:meeting_id, :meeting_id]::bigint[], ARRAY[$student_user,
    $instructor_user]::bigint[], ('{0,0}'::int4[])::integer[]) ON CONFLICT("meeting_id",
    "recipient_id") DO UPDATE SET "sequence" = EXCLUDED."sequence" RETURNING
    "bookings_sentsequence"."id";

SELECT "bookings_feed"."id" AS "pk" FROM "bookings_feed" INNER JOIN "accounts_user" ON
    ("bookings_feed"."owner_id" = "accounts_user"."id") LEFT OUTER JOIN "accounts_student" ON
    ("accounts_user"."id" = "accounts_student"."user_id") LEFT OUTER JOIN "accounts_instructor" ON
    ("bookings_feed"."instructor_id" = "accounts_instructor"."id") WHERE
    ("bookings_feed"."revoked_at" IS NULL AND ("bookings_feed"."owner_id" IN ($student_user,
    $instructor_user) OR "accounts_student"."id" IN (SELECT U0."student_id" AS "student" FROM
    "accounts_guardianship" U0 INNER JOIN "accounts_user" U1 ON (U0."guardian_id" = U1."id") WHERE
    (U0."barred_at" IS NULL AND U1."is_active" AND U0."guardian_id" IN ($student_user,
    $instructor_user))) OR "accounts_instructor"."user_id" IN ($student_user, $instructor_user)))
    ORDER BY "bookings_feed"."id" ASC;
