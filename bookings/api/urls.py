"""Every address of the API. Ids are positive integers that fit a database's."""

from django.urls import include, path, re_path, register_converter
from django.urls.converters import IntConverter

from bookings.api import (
    availability,
    bookings,
    busy,
    changes,
    consents,
    days_away,
    documents,
    explaining,
    extra_hours,
    feeds,
    hours,
    instructors,
    invitations,
    levels,
    load,
    meetings,
    move_requests,
    notes,
    offerings,
    people,
    places,
    practice,
    reading_notes,
    register,
    rooms,
    slots,
    students,
    techniques,
    terms,
    waiting,
    weekly,
    weekly_options,
    wrap_up,
)


class IdConverter(IntConverter):
    regex = "[0-9]{1,15}"


register_converter(IdConverter, "id")

version_1 = [
    path("tokens/", people.Tokens.as_view(), name="tokens-list"),
    path("tokens/current/", people.CurrentToken.as_view(), name="tokens-current"),
    path("me/", people.MyAccount.as_view(), name="me"),
    path("consents/", consents.Consents.as_view(), name="consents-list"),
    path("consents/<id:pk>/", consents.OneConsent.as_view(), name="consents-detail"),
    path(
        "consents/<id:pk>/withdraw/",
        consents.WithdrawingConsent.as_view(),
        name="consents-withdraw",
    ),
    path("invitations/", invitations.Invitations.as_view(), name="invitations-list"),
    path("invitations/<id:pk>/", invitations.OneInvitation.as_view(), name="invitations-detail"),
    path("students/<id:pk>/leave/", students.LeavingSchool.as_view(), name="students-leave"),
    path("offerings/", offerings.Offerings.as_view(), name="offerings-list"),
    path("offerings/<id:pk>/techniques/", techniques.Techniques.as_view(), name="techniques"),
    path("slots/", slots.Slots.as_view(), name="slots"),
    path("slots/explain/", explaining.Explaining.as_view(), name="slots-explain"),
    path("bookings/", bookings.Bookings.as_view(), name="bookings-list"),
    path("bookings/<id:pk>/", bookings.OneBooking.as_view(), name="bookings-detail"),
    path(
        "bookings/<id:pk>/invitation.ics",
        bookings.Invitation.as_view(),
        name="bookings-invitation-ics",
    ),
    path("bookings/<id:pk>/cancel/", changes.Cancelling.as_view(), name="bookings-cancel"),
    path("bookings/<id:pk>/move/", changes.Moving.as_view(), name="bookings-move"),
    path(
        "bookings/<id:pk>/move-requests/",
        move_requests.AskingToMove.as_view(),
        name="bookings-move-requests",
    ),
    path("bookings/<id:pk>/intake/", changes.WritingIntake.as_view(), name="bookings-intake"),
    path("bookings/<id:pk>/wrap-up/", wrap_up.WrapUp.as_view(), name="bookings-wrap-up"),
    path("bookings/<id:pk>/brief/", reading_notes.Brief.as_view(), name="bookings-brief"),
    path("meetings/", meetings.Meetings.as_view(), name="meetings-list"),
    path("meetings/<id:pk>/", meetings.OneMeeting.as_view(), name="meetings-detail"),
    path("meetings/<id:pk>/call-off/", meetings.CallingOff.as_view(), name="meetings-call-off"),
    path("meetings/<id:pk>/reinstate/", meetings.Reinstating.as_view(), name="meetings-reinstate"),
    path("meetings/<id:pk>/roster/", places.Roster.as_view(), name="meetings-roster"),
    path("meetings/<id:pk>/register/", register.Register.as_view(), name="meetings-register"),
    path("meetings/<id:pk>/waiting-list/", waiting.Waiting.as_view(), name="meetings-waiting-list"),
    path("waiting-places/", waiting.WaitingPlaces.as_view(), name="waiting-places-list"),
    path("offers/", waiting.Offers.as_view(), name="offers-list"),
    path("offers/<id:pk>/accept/", waiting.Accepting.as_view(), name="offers-accept"),
    path("offers/<id:pk>/decline/", waiting.Declining.as_view(), name="offers-decline"),
    path("move-requests/", move_requests.MoveRequests.as_view(), name="move-requests-list"),
    path(
        "move-requests/<id:pk>/",
        move_requests.OneMoveRequest.as_view(),
        name="move-requests-detail",
    ),
    path(
        "move-requests/<id:pk>/accept/",
        move_requests.AcceptingMove.as_view(),
        name="move-requests-accept",
    ),
    path(
        "move-requests/<id:pk>/refuse/",
        move_requests.RefusingMove.as_view(),
        name="move-requests-refuse",
    ),
    path("teaching-hours/", hours.TeachingHours.as_view(), name="teaching-hours-list"),
    path(
        "teaching-hours/availability.ics",
        availability.HoursFile.as_view(),
        name="teaching-hours-availability-ics",
    ),
    path(
        "teaching-hours/proposal/",
        availability.HoursProposal.as_view(),
        name="teaching-hours-proposal",
    ),
    path("extra-hours/", extra_hours.AllExtraHours.as_view(), name="extra-hours-list"),
    path("extra-hours/<id:pk>/", extra_hours.OneExtraHours.as_view(), name="extra-hours-detail"),
    path("days-away/", days_away.AllDaysAway.as_view(), name="days-away-list"),
    path("days-away/<id:pk>/", days_away.OneDaysAway.as_view(), name="days-away-detail"),
    path("instructors/<id:pk>/room/", rooms.Room.as_view(), name="instructors-room"),
    path(
        "instructors/<id:pk>/dismiss/", instructors.Dismissing.as_view(), name="instructors-dismiss"
    ),
    path("busy-calendars/", busy.BusyCalendars.as_view(), name="busy-calendars-list"),
    path("busy-calendars/<id:pk>/", busy.OneBusyCalendar.as_view(), name="busy-calendars-detail"),
    path(
        "busy-calendars/<id:pk>/refresh/",
        busy.RefreshingBusyCalendar.as_view(),
        name="busy-calendars-refresh",
    ),
    path("load-allowances/", load.LoadAllowances.as_view(), name="load-allowances-list"),
    path("terms/", terms.Terms.as_view(), name="terms-list"),
    path("terms/<id:pk>/", terms.OneTerm.as_view(), name="terms-detail"),
    path("weekly-places/", weekly.WeeklyPlaces.as_view(), name="weekly-places-list"),
    path(
        "weekly-places/options/",
        weekly_options.WeeklyOptions.as_view(),
        name="weekly-places-options",
    ),
    path("weekly-places/<id:pk>/", weekly.OneWeeklyPlace.as_view(), name="weekly-places-detail"),
    path(
        "weekly-places/<id:pk>/leave/",
        weekly.LeavingWeeklyPlace.as_view(),
        name="weekly-places-leave",
    ),
    path(
        "weekly-places/<id:pk>/move/", weekly.MovingWeeklyPlace.as_view(), name="weekly-places-move"
    ),
    path("assessments/", notes.Assessments.as_view(), name="assessments-list"),
    path("assessments/<id:pk>/", notes.OneAssessment.as_view(), name="assessments-detail"),
    path(
        "assessments/<id:pk>/adopt-level/",
        levels.AdoptingLevel.as_view(),
        name="assessments-adopt-level",
    ),
    path("assessments/<id:pk>/release/", notes.Releasing.as_view(), name="assessments-release"),
    path(
        "students/<id:pk>/assessments/",
        reading_notes.AssessmentHistory.as_view(),
        name="students-assessments",
    ),
    path(
        "students/<id:pk>/assessments/latest/",
        reading_notes.LatestAssessment.as_view(),
        name="students-assessments-latest",
    ),
    path("students/<id:pk>/practice/", practice.Practising.as_view(), name="students-practice"),
    path(
        "students/<id:pk>/practice/tick/",
        practice.Ticking.as_view(),
        name="students-practice-tick",
    ),
    path(
        "students/<id:pk>/practice/untick/",
        practice.Unticking.as_view(),
        name="students-practice-untick",
    ),
    path("feeds/", feeds.Feeds.as_view(), name="feeds-list"),
    path("feeds/<id:pk>/", feeds.OneFeed.as_view(), name="feeds-detail"),
    path("feeds/<id:pk>/renew/", feeds.RenewingFeed.as_view(), name="feeds-renew"),
]
app_name = "api"
urlpatterns = [
    path("v1/", include(version_1)),
    path("schema/", documents.Schema.as_view(), name="schema"),
    path("docs/", documents.Docs.as_view(), name="api-docs"),
    path("problems/<slug:code>/", documents.ProblemPage.as_view()),
    re_path("", documents.Nothing.as_view()),
]
