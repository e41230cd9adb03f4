from django.urls import path

from groutjobs.pending import pending

app_name = "pours"
urlpatterns = [
    path("pours/<int:pour_id>/", pending, name="pour_detail"),
    path("plans/<int:plan_id>/pours/open/", pending, name="pour_open"),
    path("photos/<int:photo_id>/", pending, name="photo"),
]
