from django.urls import path

from groutjobs.pending import pending

app_name = "weather"
urlpatterns = [
    path("sites/<int:site_id>/forecasts/", pending, name="forecast_list"),
    path("forecasts/<int:forecast_id>/", pending, name="forecast_detail"),
]
