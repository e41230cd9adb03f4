from django.urls import path

from groutjobs.curing import api, logger_views, release_views, sample_views, views, watch_views

app_name = "curing"
urlpatterns = [
    path("pours/<int:pour_id>/cure/", views.cure_detail, name="cure_detail"),
    path("pours/<int:pour_id>/cure/readings/add/", views.reading_add, name="reading_add"),
    path("pours/<int:pour_id>/cure/readings/import/", views.reading_import, name="reading_import"),
    path("cure-imports/<int:import_id>/file/", views.reading_file, name="reading_file"),
    path("cure-imports/<int:import_id>/set-aside/", views.reading_set_aside, name="reading_set_aside"),
    path("pours/<int:pour_id>/inspections/", views.inspection_list, name="inspection_list"),
    path("pours/<int:pour_id>/inspections/level/add/", views.level_add, name="level_add"),
    path("pours/<int:pour_id>/inspections/sounding/add/", views.sounding_add, name="sounding_add"),
    path("pours/<int:pour_id>/inspections/bolts/add/", views.bolts_add, name="bolts_add"),
    path("inspections/<int:inspection_id>/", views.inspection_detail, name="inspection_detail"),
    path("inspections/<int:inspection_id>/judge/", views.inspection_judge, name="inspection_judge"),
    path("pours/<int:pour_id>/releases/", release_views.release_list, name="release_list"),
    path("pours/<int:pour_id>/releases/<slug:milestone>/add/", release_views.release_add, name="release_add"),
    path("releases/<int:release_id>/", release_views.release_detail, name="release_detail"),
    path("releases/<int:release_id>/withdraw/", release_views.release_withdraw, name="release_withdraw"),
    path("pours/<int:pour_id>/samples/", sample_views.sample_list, name="sample_list"),
    path("pours/<int:pour_id>/samples/add/", sample_views.sample_add, name="sample_add"),
    path("pours/<int:pour_id>/inspections/jackscrews/add/", views.jackscrews_add, name="jackscrews_add"),
    path("pours/<int:pour_id>/inspections/joints/add/", views.joints_add, name="joints_add"),
    path("pours/<int:pour_id>/inspections/soft-foot/add/", views.soft_foot_add, name="soft_foot_add"),
    path("pours/<int:pour_id>/inspections/hand-over/add/", views.handover_add, name="handover_add"),
    # a cure that is watched
    path("pours/<int:pour_id>/cure/aside/", watch_views.span_aside, name="span_aside"),
    path("cure-spans/<int:aside_id>/back/", watch_views.span_back, name="span_back"),
    path("pours/<int:pour_id>/cure/wetting/add/", watch_views.wet_add, name="wet_add"),
    path("cure-wetting/<int:wet_entry_id>/strike/", watch_views.wet_strike, name="wet_strike"),
    path("pours/<int:pour_id>/cure/heat/", watch_views.heat_try, name="heat_try"),
    path("cure-heating/<int:heating_id>/", watch_views.heat_kept, name="heat_kept"),
    # loggers
    path("loggers/at/<int:site_id>/", logger_views.logger_list, name="logger_list"),
    path("loggers/at/<int:site_id>/add/", logger_views.logger_add, name="logger_add"),
    path("loggers/<int:logger_id>/", logger_views.logger_detail, name="logger_detail"),
    path("loggers/<int:logger_id>/edit/", logger_views.logger_edit, name="logger_edit"),
    path("loggers/<int:logger_id>/place/", logger_views.logger_place, name="logger_place"),
    path("loggers/<int:logger_id>/keys/add/", logger_views.key_add, name="key_add"),
    path("logger-keys/<int:logger_key_id>/revoke/", logger_views.key_revoke, name="key_revoke"),
    path("loggers/endpoint/", logger_views.logger_endpoint, name="logger_endpoint"),
    path("api/loggers/v1/readings", api.readings, name="logger_readings"),
    path("api/loggers/v1/openapi.json", api.openapi, name="logger_openapi"),
]
