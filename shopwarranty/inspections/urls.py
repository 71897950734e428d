from django.urls import path

from .views import booking, checks, earlier, offering, plans, stop, week, writing

urlpatterns = [
    path("checks/", checks.checks, name="checks"),
    path("checks/earlier/", earlier.earlier, name="earlier"),
    path("checks/<int:pk>/", checks.check, name="check"),
    path("checks/<int:pk>/sooner/", earlier.want_earlier, name="want-earlier"),
    path("checks/<int:pk>/sooner/offer/", earlier.offer_earlier, name="offer-earlier"),
    path("checks/<int:pk>/book/", booking.book_check, name="book-check"),
    path("checks/<int:pk>/call/", checks.note_call, name="note-call"),
    path("checks/<int:pk>/aside/", checks.set_aside, name="check-aside"),
    path("checks/<int:pk>/again/", checks.check_again, name="check-again"),
    path("bookings/<int:pk>/move/", booking.move_booking, name="move-booking"),
    path("bookings/<int:pk>/cancel/", booking.cancel_booking, name="cancel-booking"),
    path("bookings/<int:pk>/not-kept/", booking.booking_not_kept, name="booking-not-kept"),
    path("week/", week.week, name="week"),
    path("settings/offering/", offering.offering, name="offering"),
    path("settings/offering/day/", offering.other_day, name="other-day"),
    path("settings/offering/day/again/", offering.day_again, name="day-again"),
    path("settings/offering/bays/<int:pk>/", offering.bay_hours, name="bay-check-hours"),
    path("settings/writing/", writing.writing, name="writing"),
    path("settings/writing/text/", writing.wording, name="wording"),
    path("check-plans/", plans.check_plans, name="check-plans"),
    path("check-plans/new/", plans.new_check_plan, name="new-check-plan"),
    path("check-plans/<int:pk>/", plans.check_plan, name="check-plan"),
    path("check-plans/<int:pk>/standing/", plans.standing, name="check-plan-standing"),
    path("check-plans/<int:pk>/undo/<int:change>/", plans.undo_change, name="check-plan-undo"),
]
public_urlpatterns = [path("stop/<str:token>/", stop.stop, name="stop")]
