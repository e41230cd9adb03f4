from django.urls import path

from groutjobs.curing import views

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
]
