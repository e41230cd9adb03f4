from django.urls import path

from groutjobs.outages import feed_views, schedule_views, views

app_name = "outages"
urlpatterns = [
    path("outages/", views.outage_list, name="outage_list"),
    path("outages/<int:outage_id>/", views.outage_detail, name="outage_detail"),
    path("outages/<int:outage_id>/change/", views.outage_change, name="outage_change"),
    path("sites/<int:site_id>/outages/add/", views.outage_add, name="outage_add"),
    path("pour-hours/<int:search_id>/<int:hour>/choose/", views.hour_choose, name="hour_choose"),
    path("outages/<int:outage_id>/schedule/", schedule_views.outage_work, name="outage_work"),
    path("outages/<int:outage_id>/means/", schedule_views.means_change, name="means_change"),
    path("outages/<int:outage_id>/crews/add/", schedule_views.crew_add, name="crew_add"),
    path("outages/crews/<int:crew_id>/", schedule_views.crew_change, name="crew_change"),
    path("outages/crews/<int:crew_id>/take-off/", schedule_views.crew_take_off, name="crew_take_off"),
    path("outages/<int:outage_id>/jobs/add/", schedule_views.job_add, name="job_add"),
    path("outages/jobs/<int:job_id>/", schedule_views.job_change, name="job_change"),
    path("outages/jobs/<int:job_id>/take-out/", schedule_views.job_take_out, name="job_take_out"),
    path("outages/<int:outage_id>/schedules/ask/", schedule_views.schedule_ask, name="schedule_ask"),
    path("outages/<int:outage_id>/hours-again/", schedule_views.hours_again, name="hours_again"),
    path("outages/<int:outage_id>/calendar/", feed_views.calendar_address, name="calendar_address"),
    path("outages/<int:outage_id>/calendar/end/", feed_views.calendar_revoke, name="calendar_revoke"),
    path("calendar/<str:code>.ics", feed_views.calendar, name="calendar"),
    path("outages/schedules/<int:schedule_id>/", schedule_views.schedule_detail, name="schedule_detail"),
    path("outages/schedules/<int:schedule_id>/stop/", schedule_views.schedule_stop, name="schedule_stop"),
    path("outages/schedules/<int:schedule_id>/accept/", schedule_views.schedule_accept, name="schedule_accept"),
]
