"""Who may open a page: a role is a rank, and whoever stands higher may do what those below may."""

from collections.abc import Callable
from functools import wraps
from typing import Any, Concatenate, ParamSpec, cast

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponseBase
from django.views import View

from refuge.people.models import Role, User

P = ParamSpec("P")
ViewFunction = Callable[Concatenate[HttpRequest, P], HttpResponseBase]

REFUSALS = {
    Role.VOLUNTEER: "This page is for people who work here.",
    Role.STAFF: "This page is for staff. Ask a manager if you need it for your work.",
    Role.MANAGER: "This page is for managers. Ask one of them if you need something changed here.",
}


def require_role(user: User, role: str) -> None:
    """Raise PermissionDenied, with a sentence for the person, unless `user` stands at least at `role`."""
    if not user.may_act_as(role):
        raise PermissionDenied(REFUSALS[Role(role)])


def role_required(role: str) -> Callable[[ViewFunction[P]], ViewFunction[P]]:
    """Decorate a view: anonymous visitors go to sign in and come back, a lower role gets the 403 page."""

    def decorate(view: ViewFunction[P]) -> ViewFunction[P]:
        @wraps(view)
        def guarded(request: HttpRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
            if not request.user.is_authenticated:
                return redirect_to_login(request.get_full_path())
            require_role(cast(User, request.user), role)
            return view(request, *args, **kwargs)

        return guarded

    return decorate


volunteer_required = role_required(Role.VOLUNTEER)  # anybody who is signed in
staff_required = role_required(Role.STAFF)
manager_required = role_required(Role.MANAGER)


class RoleRequiredMixin(View):
    """The same guard for a class-based view; list it first among the bases."""

    role: str = Role.VOLUNTEER

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if not request.user.is_authenticated:
            return redirect_to_login(request.get_full_path())
        require_role(cast(User, request.user), self.role)
        return super().dispatch(request, *args, **kwargs)


class StaffRequiredMixin(RoleRequiredMixin):
    role = Role.STAFF


class ManagerRequiredMixin(RoleRequiredMixin):
    role = Role.MANAGER
