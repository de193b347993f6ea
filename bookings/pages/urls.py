"""Every page's address."""

from django.urls import path

from bookings.pages import briefs, calendars, entry, hours, lessons, meetings, people, roster, times, why

urlpatterns = [
    path("", entry.home, name="home"),
    path("welcome/<str:secret>/", entry.welcome, name="welcome"),
    path("consent/<str:secret>/", entry.consent, name="consent"),
    path("me/", people.me, name="me"),
    path("me/zone/", people.answer_zone, name="answer-zone"),
    path("people/", people.people, name="people"),
    path("times/", times.times, name="times"),
    path("times/why/", why.why, name="why"),
    path("times/book/", times.book, name="book"),
    path("my-lessons/", lessons.my_lessons, name="my-lessons"),
    path("my-lessons/<int:booking_id>/move/", lessons.move, name="move"),
    path("my-lessons/<int:booking_id>/change/", lessons.change, name="change-meeting"),
    path("my-lessons/<int:booking_id>/cancel/", lessons.cancel, name="cancel"),
    path("my-lessons/<int:booking_id>/intake/", lessons.intake, name="intake"),
    path("my-lessons/<int:booking_id>/answer/", lessons.answer, name="answer"),
    path("assessments/<int:note_id>/", briefs.assessment, name="assessment"),
    path("assessments/<int:note_id>/write/", briefs.rewrite, name="rewrite"),
    path("hours/", hours.hours, name="hours"),
    path("hours/extra/", hours.add_extra, name="add-extra-hours"),
    path("hours/extra/<int:extra_id>/remove/", hours.remove_extra, name="remove-extra-hours"),
    path("hours/away/", hours.add_away, name="go-away"),
    path("hours/away/<int:away_id>/remove/", hours.remove_away, name="come-back"),
    path("brief/<int:booking_id>/", briefs.brief, name="brief"),
    path("brief/<int:booking_id>/assessment/", briefs.write, name="write-assessment"),
    path("meetings/", meetings.meetings, name="meetings"),
    path("meetings/new/", roster.new, name="new-meeting"),
    path("meetings/<int:meeting_id>/", meetings.meeting, name="meeting"),
    path("meetings/<int:meeting_id>/place/", meetings.take_place, name="take-place"),
    path("meetings/<int:meeting_id>/waiting-list/", meetings.waiting_list, name="waiting-list"),
    path("meetings/<int:meeting_id>/register/", roster.register, name="register"),
    path("meetings/<int:meeting_id>/roster/", roster.change_roster, name="change-roster"),
    path("meetings/<int:meeting_id>/call-off/", roster.call_off, name="call-off"),
    path("calendars/", calendars.calendars, name="calendars"),
    path("calendars/<int:feed_id>/renew/", calendars.renew, name="renew-feed"),
    path("calendars/<int:feed_id>/revoke/", calendars.revoke, name="revoke-feed"),
]
