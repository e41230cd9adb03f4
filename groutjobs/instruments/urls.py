from django.urls import path

from groutjobs.instruments import views

app_name = "instruments"
urlpatterns = [
    path("sites/<int:site_id>/instruments/", views.instrument_list, name="instrument_list"),
    path("sites/<int:site_id>/instruments/add/", views.instrument_add, name="instrument_add"),
    path("instruments/<int:instrument_id>/", views.instrument_detail, name="instrument_detail"),
    path("instruments/<int:instrument_id>/calibrations/add/", views.calibration_add, name="calibration_add"),
    path("instruments/<int:instrument_id>/retire/", views.instrument_retire, name="instrument_retire"),
]
