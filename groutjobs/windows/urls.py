from django.urls import path

from groutjobs.windows import views

app_name = "windows"
urlpatterns = [
    path("plans/<int:plan_id>/pour-hours/", views.pour_hours, name="pour_hours"),
    path("plans/<int:plan_id>/pour-hours/search/", views.search, name="search"),
    path("plans/<int:plan_id>/pour-hours/compare/", views.compare, name="compare"),
    path("pour-hours/<int:search_id>/take/", views.measure_take, name="measure_take"),
    path("plans/<int:plan_id>/pour-hours/beside/", views.measures_compared, name="measures_compared"),
]
