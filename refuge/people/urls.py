from django.contrib.auth.views import LogoutView
from django.urls import path

from refuge.people import entry_views, own_views, views

urlpatterns = [
    path("welcome", entry_views.welcome, name="welcome"),
    path("sign-in/", entry_views.SignIn.as_view(), name="sign_in"),
    path("sign-out/", LogoutView.as_view(next_page="sign_in"), name="sign_out"),
    path("join/<str:secret>/", entry_views.join, name="join"),
    path("new-password/<uidb64>/<token>/", entry_views.SetPassword.as_view(), name="set_password"),
    path("me/", own_views.my_settings, name="my_settings"),
    path("me/password/", own_views.my_password, name="my_password"),
    path("me/sign-out-elsewhere/", own_views.sign_out_elsewhere, name="sign_out_elsewhere"),
    path("me/token/", own_views.token_replace, name="token_replace"),
    path("me/token/revoke/", own_views.token_revoke, name="token_revoke"),
    path("people/", views.person_list, name="person_list"),
    path("people/invite/", views.invitation_new, name="invitation_new"),
    path("people/invitations/<int:pk>/withdraw/", views.invitation_take_back, name="invitation_withdraw"),
    path("people/<int:pk>/", views.person_detail, name="person_detail"),
    path("people/<int:pk>/role/", views.person_role, name="person_role"),
    path("people/<int:pk>/remove-access/", views.person_remove_access, name="person_remove_access"),
    path("people/<int:pk>/give-access/", views.person_give_access, name="person_give_access"),
    path("people/<int:pk>/password-link/", views.person_password_link, name="person_password_link"),
    path("refuge/", views.refuge_settings, name="refuge_settings"),
]
