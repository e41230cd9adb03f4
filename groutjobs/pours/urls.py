from django.urls import path

from groutjobs.pours import views

app_name = "pours"
urlpatterns = [
    path("pours/<int:pour_id>/", views.pour_detail, name="pour_detail"),
    path("pours/<int:pour_id>/entries/<uuid:entry_id>/correct/", views.entry_correct, name="entry_correct"),
    path("pours/<int:pour_id>/entries/<uuid:entry_id>/strike/", views.entry_strike, name="entry_strike"),
    path("pours/<int:pour_id>/settle/<uuid:entry_id>/", views.conflict_settle, name="conflict_settle"),
    path("plans/<int:plan_id>/pours/open/", views.pour_open, name="pour_open"),
    path("photos/<int:photo_id>/", views.photo, name="photo"),
]
