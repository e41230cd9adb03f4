from django.urls import path

from groutjobs.turnover import issue_views, outside_views, register_views, trail_views, views

app_name = "turnover"
urlpatterns = [
    path("register/", register_views.register, name="register"),
    path("register/save/", register_views.search_save, name="search_save"),
    path("register/saved/<int:saved_id>/forget/", register_views.search_forget, name="search_forget"),
    path("register/list.csv", register_views.register_csv, name="register_csv"),
    path("register/list.xlsx", register_views.register_xlsx, name="register_xlsx"),
    path("register/reports.zip", register_views.register_zip, name="register_zip"),
    path("pours/<int:pour_id>/turnover/", views.readiness_list, name="readiness"),
    path("reports/<int:report_id>/", views.report_detail, name="report_detail"),
    path("reports/<int:report_id>/read/", views.report_read, name="report_read"),
    path("reports/<int:report_id>/sign/", views.report_sign, name="report_sign"),
    path("reports/<int:report_id>/send-back/", views.report_return, name="report_return"),
    path("reports/<int:report_id>/draw-again/", views.report_draw, name="report_draw"),
    path("reports/<int:report_id>/pdf/", views.report_pdf, name="report_pdf"),
    path("pours/<int:pour_id>/trail/", trail_views.pour_trail, name="pour_trail"),
    path("machines/<int:machine_id>/trail/", trail_views.machine_trail, name="machine_trail"),
    path("reports/<int:report_id>/trail/", trail_views.report_trail, name="report_trail"),
    path("reports/<int:report_id>/manifest/", views.report_manifest, name="report_manifest"),
    path("reports/<int:report_id>/issue/", issue_views.report_issue, name="report_issue"),
    path("reports/<int:report_id>/readers/", issue_views.report_readers, name="report_readers"),
    path("reports/<int:report_id>/accept/", issue_views.report_accept, name="report_accept"),
    path("reports/<int:report_id>/accepted-paper/", issue_views.report_paper, name="report_paper"),
    path("reports/<int:report_id>/withdraw/", issue_views.report_withdraw, name="report_withdraw"),
    path("readers/<int:recipient_id>/link/", issue_views.link_renew, name="link_renew"),
    path("links/<int:link_id>/revoke/", issue_views.link_revoke, name="link_revoke"),
    path("verify/", outside_views.verify, name="verify"),
    path("verify/verify_report.py", outside_views.verify_script, name="verify_script"),
    path("verify/record.schema.json", outside_views.record_schema, name="record_schema"),
    path("verify/<str:number>/<int:revision>/<str:prefix>/", outside_views.verify_code, name="verify_code"),
    path("outside/<str:code>/", outside_views.outside, name="outside"),
]
