"""The data map of what the school sets: it holds nothing of students, guardians or families."""

from typing import Final

from bookings.queries.data_map.table import Table

SCHOOL: Final = (
    Table(
        model="bookings.StudioPolicy",
        plain="id version in_force_from lead_time_minutes horizon_days notice_minutes "
        "open_consultations changeover_short_minutes changeover_long_minutes minor_opens "
        "minor_closes run_minutes run_gap_minutes day_minutes week_minutes night_rest_minutes "
        "make_ups_a_term make_up_use_by_days",
    ),
    Table(
        model="bookings.Offering",
        plain="id name kind summary minutes grid step_minutes changeover_minutes is_open version",
    ),
    Table(
        model="bookings.Teaches",
        stays="It holds what an instructor teaches now.",
        others={"instructor": "who teaches it"},
        plain="id offering lowest_level highest_level",
    ),
    Table(model="bookings.Technique", plain="id offering name position"),
    Table(
        model="bookings.Term",
        plain="id name first_on last_on flex_last_on lessons_promised version",
    ),
    Table(model="bookings.TermBreak", plain="id term first_on last_on name"),
    Table(
        model="bookings.TeachingWeek",
        stays="It holds an instructor’s hours as they are now.",
        others={"instructor": "whose hours"},
        plain="id time_zone version changed_at keeps_hours_whole",
    ),
    Table(model="bookings.TeachingHours", plain="id week weekday opens closes"),
    Table(
        model="bookings.ExtraHours",
        stays="Hours published are compared with hours taught, and name no reason.",
        others={"instructor": "whose hours"},
        plain="id on opens closes time_zone",
    ),
    Table(
        model="bookings.DaysAway",
        stays="Hours lost are reckoned from it, and it names no reason.",
        others={"instructor": "who is away"},
        plain="id first_on last_on from_minute to_minute time_zone called_off_at",
    ),
    Table(
        model="bookings.LoadAllowance",
        stays="It shows that an instructor’s own rest was given up by themselves.",
        others={"instructor": "whose load", "allowed_by": "who allowed it"},
        plain="id starts_at allowed_at",
    ),
    Table(model="bookings.ConsentText", plain="id version text published_at"),
    Table(model="bookings.RetentionRun", plain="id day begun_at ended_at gone"),
    Table(model="bookings.IgnoredMail", plain="id day reason count"),
    Table(model="bookings.KeptZoneRules", plain="tzdata_version year offsets kept_at"),
)
