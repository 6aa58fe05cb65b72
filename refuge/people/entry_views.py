"""The ways in: founding the refuge, signing in, accepting an invitation, setting a new password."""

from typing import Any, cast

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.views import LoginView, PasswordResetConfirmView
from django.core.exceptions import NON_FIELD_ERRORS
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse_lazy
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from refuge.people.errors import AlreadyFounded, InvitationClosed, InvitationUnknown, SignInNameTaken
from refuge.people.forms import JoinForm, NewPasswordForm, SignInForm, WelcomeForm
from refuge.people.invitations import invitation_accept, invitation_find, require_open
from refuge.people.models import Invitation, User
from refuge.people.services import refuge_found


def shut(request: HttpRequest, sentence: str, *, status: int) -> HttpResponse:
    """A page that says why this way in is closed, and which one is open."""
    return render(request, "people/shut.html", {"sentence": sentence}, status=status)


@sensitive_post_parameters("password1", "password2")
@never_cache
@require_http_methods(["GET", "POST"])
def welcome(request: HttpRequest) -> HttpResponse:
    """The first visit: make the refuge and its first manager."""
    if request.refuge is not None:
        return (
            redirect("today") if request.method == "GET" else shut(request, str(AlreadyFounded()), status=409)
        )
    form = WelcomeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            login(request, found_from(form))
            return redirect("site_setup")  # nothing can be due before there is something on the site
        except AlreadyFounded as refusal:
            return shut(request, str(refusal), status=409)
        except SignInNameTaken as refusal:
            form.add_error("username", str(refusal))
    return render(request, "people/welcome.html", {"form": form}, status=422 if form.errors else 200)


def found_from(form: WelcomeForm) -> User:
    data = form.cleaned_data
    return refuge_found(
        name=data["refuge_name"],
        time_zone=data["time_zone"],
        morning_at=data["morning_at"],
        elevation_m=data["elevation_m"],
        manager_name=data["name"],
        email=data["email"],
        unit_system=data["unit_system"],
        account=form.account(),
    )


class SignIn(LoginView):
    template_name = "people/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def form_invalid(self, form: BaseForm) -> HttpResponse:
        status = 429 if form.has_error(NON_FIELD_ERRORS, "too_many") else 422
        return self.render_to_response(self.get_context_data(form=form), status=status)


@sensitive_post_parameters("password1", "password2")
@never_cache
@require_http_methods(["GET", "POST"])
def join(request: HttpRequest, secret: str) -> HttpResponse:
    """Whoever holds the link of an invitation chooses how to sign in, and is in."""
    try:
        return _join(request, secret, invitation_find(secret))
    except InvitationUnknown as refusal:
        return shut(request, str(refusal), status=404)
    except InvitationClosed as refusal:
        return shut(request, str(refusal), status=410)


def _join(request: HttpRequest, secret: str, invitation: Invitation) -> HttpResponse:
    if request.method == "GET":
        require_open(invitation, timezone.now())
    form = JoinForm(request.POST or None, invitation=invitation)
    if request.method == "POST" and form.is_valid():
        try:
            login(request, invitation_accept(secret=secret, account=form.account()))
            return redirect("today")
        except SignInNameTaken as refusal:
            form.add_error("username", str(refusal))
    elif request.method == "POST":
        require_open(invitation, timezone.now())
    context = {"form": form, "invitation": invitation}
    return render(request, "people/join.html", context, status=422 if form.errors else 200)


class SetPassword(PasswordResetConfirmView):
    """Where a manager's link for a forgotten password leads. It works once, for three days."""

    template_name = "people/set_password.html"
    form_class = NewPasswordForm
    post_reset_login = True
    success_url = reverse_lazy("today")

    def form_valid(self, form: Any) -> HttpResponse:
        if not cast(User, self.user).is_active:
            return shut(self.request, "Your access was removed. Ask a manager.", status=410)
        messages.success(self.request, "Your new password is set.")
        return super().form_valid(form)
