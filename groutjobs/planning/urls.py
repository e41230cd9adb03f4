from django.urls import path

from groutjobs.planning import views

app_name = "planning"
urlpatterns = [
    path("data-sheets/", views.data_sheet_list, name="data_sheet_list"),
    path("data-sheets/systems/add/", views.grout_system_add, name="grout_system_add"),
    path("data-sheets/systems/<int:system_id>/sheets/add/", views.data_sheet_add, name="data_sheet_add"),
    path("data-sheets/systems/<int:system_id>/lots/add/", views.lot_add, name="lot_add"),
    path("data-sheets/lots/<int:lot_id>/edit/", views.lot_edit, name="lot_edit"),
    path("data-sheets/<int:sheet_id>/", views.data_sheet_detail, name="data_sheet_detail"),
    path("data-sheets/<int:sheet_id>/edit/", views.data_sheet_edit, name="data_sheet_edit"),
    path("machines/<int:machine_id>/plan/add/", views.plan_add, name="plan_add"),
    path("plans/<int:plan_id>/", views.plan_detail, name="plan_detail"),
    path("plans/<int:plan_id>/edit/", views.plan_edit, name="plan_edit"),
    path("plans/<int:plan_id>/approve/", views.plan_approve, name="plan_approve"),
    path("plans/<int:plan_id>/revise/", views.plan_revise, name="plan_revise"),
    path("plan-points/<int:point_id>/edit/", views.point_edit, name="point_edit"),
]
