from django.urls import path

from groutjobs.nonconformances import views

app_name = "nonconformances"
ONE = "nonconformances/<int:nonconformance_id>/"
urlpatterns = [
    path("sites/<int:site_id>/nonconformances/", views.site_list, name="site_list"),
    path("pours/<int:pour_id>/nonconformances/", views.pour_list, name="pour_list"),
    path("pours/<int:pour_id>/nonconformances/add/", views.nonconformance_add, name="nonconformance_add"),
    path(ONE, views.nonconformance_detail, name="nonconformance_detail"),
    path(f"{ONE}decide/", views.decide, name="decide"),
    path(f"{ONE}proof/", views.prove, name="prove"),
    path(f"{ONE}step/<slug:step>/", views.take_step, name="take_step"),
]
