from django.urls import path

from groutjobs.curing import release_views, sample_views, views

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
]
