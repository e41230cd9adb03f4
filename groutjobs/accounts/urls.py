from django.urls import path

from groutjobs.accounts import views

app_name = "accounts"
urlpatterns = [
    path("sign-in/", views.sign_in, name="sign_in"),
    path("sign-out/", views.sign_out, name="sign_out"),
    path("invitations/<str:code>/", views.invitation_answer, name="invitation_answer"),
    path("my-settings/", views.preferences, name="preferences"),
    path("my-settings/password/", views.password_change, name="password_change"),
    path("people/", views.people, name="people"),
    path("people/<int:site_id>/", views.site_people, name="site_people"),
    path("people/<int:site_id>/<int:user_id>/", views.roles_form, name="roles_form"),
]
