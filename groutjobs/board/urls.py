from django.urls import path

from groutjobs.pending import pending

app_name = "board"
urlpatterns = [
    path("", pending, name="day_sheet"),
    path("sources/", pending, name="sources"),
]
