from django.urls import path

from groutjobs.pending import pending

app_name = "equipment"
urlpatterns = [
    path("machines/", pending, name="machine_list"),
    path("machines/<int:machine_id>/", pending, name="machine_detail"),
]
