from django.urls import path

from groutjobs.pending import pending

app_name = "windows"
urlpatterns = [path("plans/<int:plan_id>/pour-hours/", pending, name="pour_hours")]
