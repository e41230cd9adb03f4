from django.urls import path

from groutjobs.phone import app_views, views

app_name = "phone"
urlpatterns = [
    path("", views.pour_list, name="pour_list"),
    path("pours/<int:pour_id>/", views.pour_log, name="pour_log"),
    path("pours/<int:pour_id>/points/", views.point_list, name="point_list"),
    path("pours/<int:pour_id>/missing/", views.pour_missing, name="pour_missing"),
    path("pours/<int:pour_id>/entries/", views.entry_list, name="entry_list"),
    path("pours/<int:pour_id>/finish/", views.pour_finish, name="pour_finish"),
    path("pours/<int:pour_id>/enter/<slug:kind>/", views.entry_add, name="entry_add"),
    path("pours/<int:pour_id>/entries/<uuid:entry_id>/correct/", views.entry_correct, name="entry_correct"),
    path("pours/<int:pour_id>/paper/", app_views.paper, name="paper"),
    path("app/", app_views.app, name="app"),
    path("app/files/<slug:build>/<str:name>", app_views.app_file, name="app_file"),
    path("app.webmanifest", app_views.manifest, name="manifest"),
    path("worker.js", app_views.worker, name="worker"),
    path("sun/", views.sun_switch, name="sun_switch"),
]
