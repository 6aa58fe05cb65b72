"""Messages in the app: what one person was told."""

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from refuge.people.access import volunteer_required
from refuge.rounds.selectors import notices_of
from refuge.rounds.services import notices_mark_read

A_PAGE = 25


@volunteer_required
def notice_list(request: HttpRequest) -> HttpResponse:
    """One's own messages, unread ones first, then the newest."""
    page = Paginator(notices_of(request.user), A_PAGE).get_page(request.GET.get("page"))
    return render(request, "rounds/notice_list.html", {"page": page})


@require_POST
@volunteer_required
def notice_open(request: HttpRequest, pk: int) -> HttpResponse:
    """Mark one message as read, and go where it leads if that was asked for."""
    notice = get_object_or_404(notices_of(request.user), pk=pk)
    notices_mark_read(person=request.user, pks=[notice.pk])
    follow = "follow" in request.POST and url_has_allowed_host_and_scheme(notice.path, allowed_hosts=None)
    return redirect(notice.path if follow else "notice_list")


@require_POST
@volunteer_required
def notices_read(request: HttpRequest) -> HttpResponse:
    """Mark all messages as read."""
    notices_mark_read(person=request.user)
    return redirect("notice_list")
