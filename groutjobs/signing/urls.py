from django.urls import path

from groutjobs.signing import trail_views, views

app_name = "signing"
urlpatterns = [
    path("pours/<int:pour_id>/record/", views.record_detail, name="record_detail"),
    path("pours/<int:pour_id>/record/ready/", views.record_ready, name="record_ready"),
    path("pours/<int:pour_id>/record/sign/", views.record_sign, name="record_sign"),
    path("pours/<int:pour_id>/record/send-back/", views.record_return, name="record_return"),
    path("pours/<int:pour_id>/record/void/", views.record_void, name="record_void"),
    path("pours/<int:pour_id>/record/addendum/", views.addendum_state, name="addendum_state"),
    path("pours/<int:pour_id>/record/addendum/<int:addendum_no>/", views.addendum_agree, name="addendum_agree"),
    path("pours/<int:pour_id>/record/late/<uuid:entry_id>/", views.late_decide, name="late_decide"),
    path("record/<int:site_id>/", trail_views.site_record, name="site_record"),
    path("record/<int:site_id>/export/", trail_views.record_export, name="record_export"),
    path("record/anchors/", trail_views.anchors_file, name="anchors_file"),
    path("record/verifier/", trail_views.verifier_file, name="verifier_file"),
]
