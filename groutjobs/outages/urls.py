from django.urls import path

from groutjobs.pending import pending

app_name = "outages"
urlpatterns = [
    path("outages/", pending, name="outage_list"),
    path("outages/<int:outage_id>/", pending, name="outage_detail"),
]
