"""Every page of plans that an admin reads."""

from bookings.models import ExchangeMove, WeeklyPlace
from tests.functional.pages.school import School
from tests.school.covering import cover_question
from tests.school.owed import owed_from_before
from tests.school.plans import answered_plan, answered_timetable, asking_plan, plan_row


def plan_pages(school: School, place: WeeklyPlace, exchange: ExchangeMove) -> list[str]:
    """The list, the forms, and a plan of each kind in each state that has a page of its own."""
    group = school.circle.offering, school.ilse, school.noor
    planned, solving = answered_plan(*group).pk, plan_row(*group).pk
    asking = asking_plan(*group, school.posy).pk
    table, beside = (answered_timetable(place).pk for _ in range(2))
    covered = cover_question(school.booking, school.wren).plan_id
    return [
        "/plans/",
        "/plans/group/",
        "/plans/term/",
        "/plans/cover/",
        "/plans/who-next/",
        "/plans/exchanges/",
        f"/terms/{place.term_id}/accounts/",
        _account(place),
        f"/owed/{owed_from_before(place).pk}/",
        f"/plans/{table}/",
        f"/plans/{table}/?beside={beside}",
        f"/plans/{covered}/",
        f"/plans/{exchange.exchange.plan_id}/",
        f"/plans/{planned}/",
        f"/plans/{planned}/adopt/",
        f"/plans/{planned}/discard/",
        f"/plans/{solving}/",
        f"/plans/{asking}/",
    ]


def weekly_pages(place: WeeklyPlace, exchange: ExchangeMove) -> list[str]:
    """What a family reads of weekly places; the first start may be taken, the second not."""
    take = (
        f"/weekly/take/?term={place.term_id}&offering={place.offering_id}&"
        f"instructor={place.instructor_id}&weekday=1&wall_at="
    )
    return [
        "/weekly/",
        f"{take}1140",
        f"{take}960",
        f"/weekly/{place.pk}/leave/",
        f"/weekly/{place.pk}/move/",
        f"/weekly/{place.pk}/exchange/",
        f"/exchanges/{exchange.pk}/",
    ]


def owed_pages(place: WeeklyPlace) -> list[str]:
    """What a family reads of a lesson that is owed to the student of this place."""
    return [f"/times/?owed={owed_from_before(place).pk}", _account(place)]


def _account(place: WeeklyPlace) -> str:
    return f"/terms/{place.term_id}/accounts/{place.student_id}/"
