from django.urls import path

from groutjobs.turnover import views

app_name = "turnover"
urlpatterns = [
    path("register/", views.register, name="register"),
    path("pours/<int:pour_id>/turnover/", views.readiness_list, name="readiness"),
    path("reports/<int:report_id>/", views.report_detail, name="report_detail"),
    path("reports/<int:report_id>/read/", views.report_read, name="report_read"),
    path("reports/<int:report_id>/sign/", views.report_sign, name="report_sign"),
    path("reports/<int:report_id>/send-back/", views.report_withdraw, name="report_withdraw"),
    path("reports/<int:report_id>/draw-again/", views.report_draw, name="report_draw"),
    path("reports/<int:report_id>/pdf/", views.report_pdf, name="report_pdf"),
    path("reports/<int:report_id>/manifest/", views.report_manifest, name="report_manifest"),
]
