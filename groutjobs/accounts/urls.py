from django.urls import path

from groutjobs.pending import pending

app_name = "accounts"
urlpatterns = [
    path("sign-in/", pending, name="sign_in"),
    path("sign-out/", pending, name="sign_out"),
    path("my-settings/", pending, name="preferences"),
]
