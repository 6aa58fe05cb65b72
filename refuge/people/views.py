"""The manager's pages: people, invitations, and what the whole site goes by."""

from typing import cast

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from refuge.people import services
from refuge.people.access import manager_required
from refuge.people.errors import InvitationRepeated, PeopleError
from refuge.people.forms import InvitationForm, RefugeSettingsForm, RoleForm
from refuge.people.invitations import VALID_FOR, invitation_create, invitation_withdraw
from refuge.people.models import Invitation, User
from refuge.people.selectors import open_invitations, people, role_changes

CHANGES_SHOWN = 10


@require_GET
@manager_required
def person_list(request: HttpRequest) -> HttpResponse:
    """Everybody, and the invitations that are still open."""
    context = {
        "people": people(),
        "invitations": open_invitations(timezone.now()),
        "changes": role_changes()[:CHANGES_SHOWN],
    }
    return render(request, "people/person_list.html", context)


@require_GET
@manager_required
def person_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """One person: role, access, and the way back in for a forgotten password."""
    return _person_page(request, get_object_or_404(User, pk=pk))


def _person_page(request: HttpRequest, person: User, form: RoleForm | None = None) -> HttpResponse:
    form = form or RoleForm(initial={"role": person.role})
    context = {
        "person": person,
        "form": form,
        "is_me": person.pk == request.user.pk,
        "changes": role_changes(person),
    }
    return render(request, "people/person_detail.html", context, status=422 if form.errors else 200)


@require_POST
@manager_required
def person_role(request: HttpRequest, pk: int) -> HttpResponse:
    person = get_object_or_404(User, pk=pk)
    form = RoleForm(request.POST)
    if not form.is_valid():
        return _person_page(request, person, form)
    try:
        person = services.person_change_role(
            person_id=pk, role=form.cleaned_data["role"], by=cast(User, request.user)
        )
    except PeopleError as refusal:
        form.add_error("role", str(refusal))
        return _person_page(request, person, form)
    messages.success(request, f"{person} now works here as {person.get_role_display().lower()}.")
    return redirect("person_list" if person.is_manager or pk != request.user.pk else "today")


@require_POST
@manager_required
def person_remove_access(request: HttpRequest, pk: int) -> HttpResponse:
    person = get_object_or_404(User, pk=pk)
    try:
        services.person_remove_access(person_id=pk, by=cast(User, request.user))
    except PeopleError as refusal:
        messages.error(request, str(refusal))
        return redirect("person_detail", pk=pk)
    messages.success(request, f"{person} has no access any more, on any device.")
    return redirect("person_list")


@require_POST
@manager_required
def person_give_access(request: HttpRequest, pk: int) -> HttpResponse:
    get_object_or_404(User, pk=pk)
    person = services.person_give_access(person_id=pk, by=cast(User, request.user))
    messages.success(request, f"{person} can sign in again.")
    return redirect("person_detail", pk=pk)


@never_cache
@require_POST
@manager_required
def person_password_link(request: HttpRequest, pk: int) -> HttpResponse:
    """A link by which this person sets a new password, shown on this answer only."""
    person = get_object_or_404(User, pk=pk, is_active=True)
    path = reverse("set_password", kwargs=services.password_link_parts(person=person))
    context = {
        "title": f"A new password for {person}",
        "url": settings.BASE_URL + path,
        "days": settings.PASSWORD_RESET_TIMEOUT // 86400,
        "does": f"sets a new password for {person}",
    }
    return render(request, "people/link_made.html", context)


@never_cache
@require_http_methods(["GET", "POST"])
@manager_required
def invitation_new(request: HttpRequest) -> HttpResponse:
    """Invite somebody. The answer shows the link, once; only a hash of its secret is kept."""
    form = InvitationForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            invitation = invitation_create(by=cast(User, request.user), **form.cleaned_data)
            return _invitation_made(request, invitation, form.cleaned_data["secret"])
        except InvitationRepeated as refusal:
            form.refuse_repeat(refusal)
    return render(request, "people/invitation_new.html", {"form": form}, status=422 if form.errors else 200)


def _invitation_made(request: HttpRequest, invitation: Invitation, secret: str) -> HttpResponse:
    role = invitation.get_role_display().lower()
    context = {
        "title": f"Invitation for {invitation.name}",
        "url": settings.BASE_URL + reverse("join", args=[secret]),
        "days": VALID_FOR.days,
        "does": f"makes an account as {role} for {invitation.name}",
    }
    return render(request, "people/link_made.html", context)


@require_POST
@manager_required
def invitation_take_back(request: HttpRequest, pk: int) -> HttpResponse:
    get_object_or_404(Invitation, pk=pk)
    try:
        invitation = invitation_withdraw(invitation_id=pk)
        messages.success(request, f"The invitation for {invitation.name} is withdrawn; its link is dead.")
    except PeopleError as refusal:
        messages.error(request, str(refusal))
    return redirect("person_list")


@require_http_methods(["GET", "POST"])
@manager_required
def refuge_settings(request: HttpRequest) -> HttpResponse:
    """Name, time zone, morning hour and height of the refuge, and its price of electricity."""
    refuge, system = request.refuge, cast(User, request.user).unit_system
    initial = {
        name: getattr(refuge, name) for name in ("time_zone", "morning_at", "elevation_m", "price_per_kwh")
    }
    form = RefugeSettingsForm(
        request.POST or None, initial=initial | {"refuge_name": refuge.name}, system=system
    )
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        services.refuge_change(name=data.pop("refuge_name"), **data)
        messages.success(request, "The settings of the refuge are saved.")
        return redirect("refuge_settings")
    return render(request, "people/refuge_settings.html", {"form": form}, status=422 if form.errors else 200)
