from django.contrib.auth.views import LogoutView
from django.urls import path

from .views import bay, people, second_step, settings, sign_in

urlpatterns = [
    path("account/", people.account, name="account"),
    path("people/", people.members, name="members"),
    path("people/invite/", people.invite, name="invite"),
    path("people/invitations/<int:pk>/withdraw/", people.withdraw, name="invitation-withdraw"),
    path("people/<int:pk>/", people.member, name="member"),
    path("people/<int:pk>/leaves/", people.member_leaves, name="member-leaves"),
    path("people/<int:pk>/back/", people.member_back, name="member-back"),
    path("history/", people.history, name="history"),
    path("settings/", settings.shop_settings, name="shop-settings"),
    path("settings/hours/", settings.hours, name="shop-hours"),
    path("settings/closed/", settings.close_day, name="close-day"),
    path("settings/closed/<int:pk>/open/", settings.open_day, name="open-day"),
    path("settings/bays/", settings.bays, name="shop-bays"),
    path("settings/devices/", bay.bay_devices, name="bay-devices"),
    path("settings/devices/<int:pk>/revoke/", bay.revoke, name="bay-device-revoke"),
    path("account/pin/", bay.bay_pin, name="bay-pin"),
]
public_urlpatterns = [
    path("", sign_in.home, name="home"),
    path("sign-in/", sign_in.SignIn.as_view(), name="sign-in"),
    path("second-step/", second_step.code, name="second-step"),
    path("second-step/set-up/", second_step.set_up, name="second-step-set-up"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("bay/", bay.door, name="bay-door"),
    path("bay/enrol/<token>/", bay.enrol, name="bay-enrol"),
    path("bay/switch/<int:pk>/", bay.switch, name="bay-switch"),
    path("bay/leave/", bay.leave, name="bay-leave"),
    path("welcome/<uidb64>/<token>/", sign_in.Welcome.as_view(), name="welcome"),
    path("join/<token>/", sign_in.join, name="join"),
    path("forgot/", sign_in.ForgotPassword.as_view(), name="forgot"),
    path("forgot/sent/", sign_in.ForgotSent.as_view(), name="forgot-sent"),
]
