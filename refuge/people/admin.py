"""Django's own admin, for whoever runs the machine: to look, and to reset a password.

Roles and access change on the people page only, where nobody can lock out the last manager; accounts come from
invitations.
"""

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect

from refuge.only_to_look import OnlyToLook
from refuge.people.models import Invitation, Refuge, RoleChange, User


@admin.register(User)
class PersonAdmin(UserAdmin):
    list_display = ["username", "name", "role", "is_active", "last_seen_at"]
    list_filter = ["role", "is_active"]
    search_fields = ["username", "name", "email"]
    fieldsets = [
        (None, {"fields": ["username", "password", "name", "email"]}),
        ("Here as", {"fields": ["role", "is_active", "is_staff", "is_superuser", "last_seen_at"]}),
    ]
    readonly_fields = ["role", "is_active", "is_staff", "is_superuser", "last_seen_at"]

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: object = None) -> bool:
        return False


@admin.register(Invitation)
class InvitationAdmin(OnlyToLook):
    list_display = ["name", "role", "created_by", "created_at", "expires_at", "accepted_by", "withdrawn_at"]
    exclude = ["secret_hash"]


@admin.register(RoleChange)
class RoleChangeAdmin(OnlyToLook):
    list_display = ["person", "was", "became", "by", "at"]
    list_select_related = ["person", "by"]


@admin.register(Refuge)
class RefugeAdmin(OnlyToLook):
    list_display = ["name", "time_zone", "morning_at", "elevation_m"]


def admin_sign_in(request: HttpRequest, extra_context: object = None) -> HttpResponseBase:
    """One door for passwords: the site's own, which slows down guessing."""
    if admin.site.has_permission(request):
        return redirect("admin:index")
    if request.user.is_authenticated:
        raise PermissionDenied("The administration is for whoever runs this machine.")
    return redirect_to_login(request.GET.get("next", "/admin/"))


admin.site.login = admin_sign_in  # type: ignore[method-assign]
