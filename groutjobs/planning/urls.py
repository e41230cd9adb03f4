from django.urls import path

from groutjobs.pending import pending

app_name = "planning"
urlpatterns = [
    path("data-sheets/", pending, name="data_sheet_list"),
    path("plans/<int:plan_id>/", pending, name="plan_detail"),
    path("machines/<int:machine_id>/plan/add/", pending, name="plan_add"),
]
