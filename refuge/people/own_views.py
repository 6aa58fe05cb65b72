"""What a person may change about themselves."""

from typing import cast

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from refuge.people import services
from refuge.people.access import volunteer_required
from refuge.people.forms import MyPasswordForm, MySettingsForm
from refuge.people.models import User
from refuge.people.selectors import has_token


@require_http_methods(["GET", "POST"])
@volunteer_required
def my_settings(request: HttpRequest) -> HttpResponse:
    """Name, units, colours and the morning message, and the doors to the rest."""
    person = cast(User, request.user)
    form = MySettingsForm(request.POST or None, instance=User.objects.get(pk=person.pk))
    if request.method == "POST" and form.is_valid():
        services.my_settings_change(person=person, **form.cleaned_data)
        messages.success(request, "Your settings are saved.")
        return redirect("my_settings")
    context = {"form": form, "has_token": has_token(person)}
    return render(request, "people/my_settings.html", context, status=422 if form.errors else 200)


@sensitive_post_parameters()
@never_cache
@require_http_methods(["GET", "POST"])
@volunteer_required
def my_password(request: HttpRequest) -> HttpResponse:
    """A new password. Every other device is signed out by it; this one stays."""
    form = MyPasswordForm(cast(User, request.user), request.POST or None)
    if request.method == "POST" and form.is_valid():
        password = form.cleaned_data["new_password1"]
        person = services.password_change(person=cast(User, request.user), password=password)
        update_session_auth_hash(request, person)
        messages.success(request, "Your new password is set. Other devices are signed out.")
        return redirect("my_settings")
    return render(request, "people/my_password.html", {"form": form}, status=422 if form.errors else 200)


@require_POST
@volunteer_required
def sign_out_elsewhere(request: HttpRequest) -> HttpResponse:
    """End every session of this person but the one that asks."""
    person = services.sessions_end(person=cast(User, request.user))
    update_session_auth_hash(request, person)
    messages.success(request, "Every other device is signed out.")
    return redirect("my_settings")


@never_cache
@require_POST
@volunteer_required
def token_replace(request: HttpRequest) -> HttpResponse:
    """A new API token, shown on the answer and never again."""
    token = services.token_replace(person=cast(User, request.user))
    return render(request, "people/token_made.html", {"token": token})


@require_POST
@volunteer_required
def token_revoke(request: HttpRequest) -> HttpResponse:
    services.token_revoke(person=cast(User, request.user))
    messages.success(request, "The API token no longer works.")
    return redirect("my_settings")
