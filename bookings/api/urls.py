"""Every address of the API. Ids are positive integers that fit a database's."""

from django.urls import include, path, re_path, register_converter
from django.urls.converters import IntConverter

from bookings.api import (
    availability,
    bookings,
    busy,
    changes,
    documents,
    explaining,
    feeds,
    hours,
    instructors,
    load,
    meetings,
    move_requests,
    notes,
    offerings,
    people,
    places,
    slots,
    terms,
    waiting,
    weekly,
)


class IdConverter(IntConverter):
    regex = "[0-9]{1,15}"


register_converter(IdConverter, "id")

version_1 = [
    path("tokens/", people.Tokens.as_view()),
    path("tokens/current/", people.CurrentToken.as_view()),
    path("me/", people.MyAccount.as_view()),
    path("offerings/", offerings.Offerings.as_view()),
    path("slots/", slots.Slots.as_view()),
    path("slots/explain/", explaining.Explaining.as_view()),
    path("bookings/", bookings.Bookings.as_view()),
    path("bookings/<id:pk>/", bookings.OneBooking.as_view()),
    path("bookings/<id:pk>/invitation.ics", bookings.Invitation.as_view()),
    path("bookings/<id:pk>/cancel/", changes.Cancelling.as_view()),
    path("bookings/<id:pk>/move/", changes.Moving.as_view()),
    path("bookings/<id:pk>/move-requests/", move_requests.AskingToMove.as_view()),
    path("bookings/<id:pk>/intake/", changes.WritingIntake.as_view()),
    path("bookings/<id:pk>/brief/", notes.Brief.as_view()),
    path("meetings/", meetings.Meetings.as_view()),
    path("meetings/<id:pk>/", meetings.OneMeeting.as_view()),
    path("meetings/<id:pk>/call-off/", meetings.CallingOff.as_view()),
    path("meetings/<id:pk>/reinstate/", meetings.Reinstating.as_view()),
    path("meetings/<id:pk>/roster/", places.Roster.as_view()),
    path("meetings/<id:pk>/register/", places.Register.as_view()),
    path("meetings/<id:pk>/waiting-list/", waiting.Waiting.as_view()),
    path("waiting-places/", waiting.WaitingPlaces.as_view()),
    path("offers/", waiting.Offers.as_view()),
    path("offers/<id:pk>/accept/", waiting.Accepting.as_view()),
    path("offers/<id:pk>/decline/", waiting.Declining.as_view()),
    path("move-requests/", move_requests.MoveRequests.as_view()),
    path("move-requests/<id:pk>/", move_requests.OneMoveRequest.as_view()),
    path("move-requests/<id:pk>/accept/", move_requests.AcceptingMove.as_view()),
    path("move-requests/<id:pk>/refuse/", move_requests.RefusingMove.as_view()),
    path("teaching-hours/", hours.TeachingHours.as_view()),
    path("teaching-hours/availability.ics", availability.HoursFile.as_view()),
    path("teaching-hours/proposal/", availability.HoursProposal.as_view()),
    path("extra-hours/", hours.ExtraHoursCalls.as_view()),
    path("extra-hours/<id:pk>/", hours.OneExtraHours.as_view()),
    path("days-away/", hours.DaysAwayCalls.as_view()),
    path("days-away/<id:pk>/", hours.OneDaysAway.as_view()),
    path("instructors/<id:pk>/dismiss/", instructors.Dismissing.as_view()),
    path("busy-calendars/", busy.BusyCalendars.as_view()),
    path("busy-calendars/<id:pk>/", busy.OneBusyCalendar.as_view()),
    path("busy-calendars/<id:pk>/refresh/", busy.RefreshingBusyCalendar.as_view()),
    path("load-allowances/", load.LoadAllowances.as_view()),
    path("terms/", terms.Terms.as_view()),
    path("terms/<id:pk>/", terms.OneTerm.as_view()),
    path("weekly-places/", weekly.WeeklyPlaces.as_view()),
    path("weekly-places/options/", weekly.WeeklyOptions.as_view()),
    path("weekly-places/<id:pk>/", weekly.OneWeeklyPlace.as_view()),
    path("weekly-places/<id:pk>/leave/", weekly.LeavingWeeklyPlace.as_view()),
    path("weekly-places/<id:pk>/move/", weekly.MovingWeeklyPlace.as_view()),
    path("assessments/", notes.Assessments.as_view()),
    path("assessments/<id:pk>/", notes.OneAssessment.as_view()),
    path("assessments/<id:pk>/release/", notes.Releasing.as_view()),
    path("students/<id:pk>/assessments/latest/", notes.LatestAssessment.as_view()),
    path("feeds/", feeds.Feeds.as_view()),
    path("feeds/<id:pk>/", feeds.OneFeed.as_view()),
    path("feeds/<id:pk>/renew/", feeds.RenewingFeed.as_view()),
]
urlpatterns = [
    path("v1/", include(version_1)),
    path("schema/", documents.Schema.as_view(), name="schema"),
    path("docs/", documents.Docs.as_view(), name="api-docs"),
    path("problems/<slug:code>/", documents.ProblemPage.as_view()),
    re_path("", documents.Nothing.as_view()),
]
