from django.urls import path

from groutjobs.outages import views

app_name = "outages"
urlpatterns = [
    path("outages/", views.outage_list, name="outage_list"),
    path("outages/<int:outage_id>/", views.outage_detail, name="outage_detail"),
    path("outages/<int:outage_id>/change/", views.outage_change, name="outage_change"),
    path("sites/<int:site_id>/outages/add/", views.outage_add, name="outage_add"),
    path("pour-hours/<int:search_id>/<int:hour>/choose/", views.hour_choose, name="hour_choose"),
]
