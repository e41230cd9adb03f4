from django.urls import path

from groutjobs.pending import pending

app_name = "curing"
urlpatterns = [
    path("pours/<int:pour_id>/cure/", pending, name="cure_detail"),
    path("pours/<int:pour_id>/inspections/", pending, name="inspection_list"),
]
