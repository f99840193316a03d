"""The door: coming in, the first run, the workshop's own pages, and whether the house is well."""

from django.urls import URLPattern, path

from curehouse.common.health import healthz
from curehouse.web.views import devices, door, joining, people, scale_change, scales, sessions, setup, trail, workshop, you

urlpatterns: list[URLPattern] = [
    path("healthz", healthz, name="healthz"),
    path("sign-in/", door.sign_in, name="sign_in"),
    path("sign-out/", door.sign_out, name="sign_out"),
    path("set-up/", setup.set_up, name="set_up"),
    path("you/", you.you, name="you"),
    path("you/password/", you.password, name="password"),
    path("you/sessions/", sessions.sessions, name="sessions"),
    path("you/sessions/end/", sessions.session_end, name="session_end"),
    path("you/sessions/end-others/", sessions.sessions_end, name="sessions_end"),
    path("you/workshops/", joining.workshops, name="workshops"),
    path("you/leave/", people.leave_here, name="leave"),
    path("join/", joining.join_here, name="join"),
    path("people/", people.people, name="people"),
    path("people/invite/", people.invite_somebody, name="invite"),
    path("people/<int:pk>/", people.member, name="member"),
    path("people/<int:pk>/remove/", people.member_remove, name="member_remove"),
    path("invitations/<int:pk>/withdraw/", people.invitation_withdraw, name="invitation_withdraw"),
    path("workshop/trail/", trail.trail, name="trail"),
    path("workshop/", workshop.workshop, name="workshop"),
    path("workshop/preferences/", workshop.preferences, name="preferences"),
    path("workshop/ready-rule/", workshop.ready_rule, name="ready_rule"),
    path("workshop/safety-check/", workshop.check_rule, name="check_rule"),
    path("workshop/scales/", scales.scales, name="scales"),
    path("workshop/scales/<int:pk>/", scales.scale, name="scale"),
    path("workshop/scales/<int:pk>/change/", scale_change.scale_change, name="scale_change"),
    path("workshop/scales/<int:pk>/retire/", scales.scale_retire, name="scale_retire"),
    path("workshop/scales/<int:pk>/tares/", scales.scale_tares, name="scale_tares"),
    path("workshop/tares/<int:pk>/retire/", scales.tare_retire, name="tare_retire"),
    path("workshop/devices/", devices.devices, name="devices"),
    path("workshop/devices/<int:pk>/revoke/", devices.device_revoke, name="device_revoke"),
]
