from django.urls import path

from groutjobs.pending import pending

app_name = "phone"
urlpatterns = [
    path("", pending, name="pour_list"),
    path("pours/<int:pour_id>/", pending, name="pour_log"),
]
