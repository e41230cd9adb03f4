from django.urls import path

from groutjobs.accounts import factor_views, views

app_name = "accounts"
urlpatterns = [
    path("sign-in/", views.sign_in, name="sign_in"),
    path("sign-in/code/", factor_views.sign_in_code, name="sign_in_code"),
    path("sign-out/", views.sign_out, name="sign_out"),
    path("invitations/<str:code>/", views.invitation_answer, name="invitation_answer"),
    path("my-settings/", views.preferences, name="preferences"),
    path("my-settings/password/", views.password_change, name="password_change"),
    path("my-settings/second-factor/", factor_views.second_factor, name="second_factor"),
    path("my-settings/second-factor/confirm/", factor_views.second_factor_confirm, name="second_factor_confirm"),
    path("people/", views.people, name="people"),
    path("people/<int:site_id>/", views.site_people, name="site_people"),
    path("people/<int:site_id>/<int:user_id>/", views.roles_form, name="roles_form"),
    path("people/<int:site_id>/<int:user_id>/second-factor/", factor_views.factor_reset, name="factor_reset"),
]
