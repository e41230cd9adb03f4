from django.urls import path

from groutjobs.equipment import views

app_name = "equipment"
urlpatterns = [
    path("machines/", views.machine_list, name="machine_list"),
    path("machines/<int:machine_id>/", views.machine_detail, name="machine_detail"),
    path("machines/<int:machine_id>/change/", views.machine_change, name="machine_change"),
    path("machines/<int:machine_id>/foundation/", views.foundation_change, name="foundation_change"),
    path("machines/<int:machine_id>/plate/", views.plate_change, name="plate_change"),
    path("machines/<int:machine_id>/plate/rectangle/", views.plate_start, name="plate_start"),
    path("machines/<int:machine_id>/tag/", views.machine_tag, name="machine_tag"),
    path("sites/", views.site_list, name="site_list"),
    path("sites/add/", views.site_add, name="site_add"),
    path("sites/<int:site_id>/", views.site_detail, name="site_detail"),
    path("sites/<int:site_id>/change/", views.site_change, name="site_change"),
    path("sites/<int:site_id>/machines/add/", views.machine_add, name="machine_add"),
]
