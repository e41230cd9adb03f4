from django.urls import path

from groutjobs.pending import pending

app_name = "turnover"
urlpatterns = [
    path("register/", pending, name="register"),
    path("pours/<int:pour_id>/turnover/", pending, name="readiness"),
    path("reports/<int:report_id>/", pending, name="report_detail"),
]
