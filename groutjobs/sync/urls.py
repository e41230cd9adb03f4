from django.urls import path

from groutjobs.sync import desk_views, views

app_name = "sync"
urlpatterns = [
    # phones
    path("sync/v1/hello", views.hello, name="hello"),
    path("sync/v1/ops", views.ops, name="ops"),
    path("sync/v1/blobs/<hash:sha256>", views.blob, name="blob"),
    path("sync/v1/blobs/<hash:sha256>/small", views.blob_small, name="blob_small"),
    path("sync/v1/records", views.records, name="records"),
    path("sync/v1/records/<int:record_id>", views.record, name="record"),
    path("sync/v1/records/<int:record_id>/snapshot", views.record_snapshot, name="record_snapshot"),
    path("sync/v1/people", views.people, name="people"),
    path("sync/v1/rescue", views.rescue, name="rescue"),
    path("sync/v1/enrol", views.enrol, name="enrol"),
    path("sync/v1/device-key", views.device_key, name="device_key"),
    path("sync/v1/cookie", views.cookie, name="cookie"),
    path("sync/v1/shift-keys", views.shift_keys, name="shift_keys"),
    path("sync/v1/shift-keys/<uuid:key_id>/end", views.shift_key_end, name="shift_key_end"),
    # the desk
    path("devices/", desk_views.sites, name="sites"),
    path("devices/at/<int:site_id>/", desk_views.devices, name="devices"),
    path("devices/at/<int:site_id>/add/", desk_views.device_add, name="device_add"),
    path("devices/at/<int:site_id>/decisions/", desk_views.decisions, name="decisions"),
    path("devices/at/<int:site_id>/rescue/", desk_views.rescue_import, name="rescue_import"),
    path("devices/<uuid:device_id>/", desk_views.device_detail, name="device_detail"),
    path("devices/<uuid:device_id>/revoke/", desk_views.device_revoke, name="device_revoke"),
    path("devices/<uuid:device_id>/gap/", desk_views.gap_explain, name="gap_explain"),
    path("devices/decisions/<uuid:op_id>/", desk_views.decision, name="decision"),
    path("pours/<int:pour_id>/phones/", desk_views.pour_phones, name="pour_phones"),
    path("phone/join/", desk_views.join, name="join"),
    path("my-settings/pin/", desk_views.pin_set, name="pin_set"),
]
