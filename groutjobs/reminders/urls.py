from django.urls import path

from groutjobs.reminders import views

app_name = "reminders"
urlpatterns = [
    path("sites/<int:site_id>/due/", views.site_due, name="site_due"),
    path("outages/<int:outage_id>/due/", views.outage_due, name="outage_due"),
    path("plans/<int:plan_id>/due/", views.plan_due, name="plan_due"),
    path("scheduled-pours/<int:scheduled_pour_id>/duties/", views.duty_say, name="duty_say"),
    path("reminders/", views.reminders, name="reminders"),
    path("sites/<int:site_id>/reminders/", views.own_reminders, name="own_reminders"),
    path("sites/<int:site_id>/reminders/calendar/", views.calendar_make, name="calendar_make"),
    path("sites/<int:site_id>/reminders/calendar/end/", views.calendar_end, name="calendar_end"),
    path("sites/<int:site_id>/mail/", views.site_mail, name="site_mail"),
    path("calendar/mine/<str:code>.ics", views.calendar, name="calendar"),
]
