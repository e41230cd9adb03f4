from django.urls import path

from groutjobs.turnover import trail_views, views

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
    path("pours/<int:pour_id>/trail/", trail_views.pour_trail, name="pour_trail"),
    path("machines/<int:machine_id>/trail/", trail_views.machine_trail, name="machine_trail"),
    path("reports/<int:report_id>/trail/", trail_views.report_trail, name="report_trail"),
    path("reports/<int:report_id>/manifest/", views.report_manifest, name="report_manifest"),
]
