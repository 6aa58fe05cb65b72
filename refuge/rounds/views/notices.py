"""Messages in the app: what one person was told."""

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from refuge.people.access import volunteer_required
from refuge.rounds.models import Message


@volunteer_required
def notice_list(request: HttpRequest) -> HttpResponse:
    """One's own messages, unread ones first."""
    own = Message.objects.filter(person=request.user, channel=Message.Channel.APP)
    page = Paginator(own.order_by("read_at", "-created_at"), 30).get_page(request.GET.get("page"))
    unread = own.filter(read_at__isnull=True).count()
    page.object_list = sorted(page.object_list, key=lambda each: (each.read_at is not None, -each.pk))
    return render(request, "rounds/notice_list.html", {"page": page, "unread": unread})


@require_POST
@volunteer_required
def notice_read(request: HttpRequest) -> HttpResponse:
    """Mark one message as read, or all of them."""
    own = Message.objects.filter(person=request.user, channel=Message.Channel.APP, read_at__isnull=True)
    if request.POST.get("pk", "").isdigit():
        own = own.filter(pk=request.POST["pk"])
    own.update(read_at=timezone.now())
    return redirect("notice_list")
