"""Feeding plans of an animal or an enclosure: begin, change, fast, end."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from enclosures.models import Enclosure
from husbandry import stays
from husbandry.models import Animal, FeedingPlan
from husbandry.stay_forms import FastForm, FeedingPlanForm, plan_initial
from refuge.people.access import staff_required


@require_http_methods(["GET", "POST"])
@staff_required
def animal_plan_new(request: HttpRequest, pk: int) -> HttpResponse:
    return _plan(request, get_object_or_404(Animal, pk=pk), None)


@require_http_methods(["GET", "POST"])
@staff_required
def enclosure_plan_new(request: HttpRequest, pk: int) -> HttpResponse:
    return _plan(request, get_object_or_404(Enclosure, pk=pk), None)


@require_http_methods(["GET", "POST"])
@staff_required
def plan_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """A changed plan is a new one that takes the place of the old, so that the past stays true."""
    plan = get_object_or_404(FeedingPlan.objects.select_related("animal", "enclosure"), pk=pk, ends_on=None)
    return _plan(request, plan.animal or plan.enclosure, plan)


def _plan(request: HttpRequest, subject: Any, plan: FeedingPlan | None) -> HttpResponse:
    system = request.user.unit_system
    form = FeedingPlanForm(
        request.POST or None, system=system, initial=plan_initial(plan) if plan else {"every_days": 7}
    )
    today = timezone.localdate()
    if request.method == "POST" and form.is_valid():
        about = "animal" if isinstance(subject, Animal) else "enclosure"
        values = form.cleaned_data | {about: subject, "starts_on": today}
        # Sent twice, it is one plan: the same one that stands already.
        if not FeedingPlan.objects.filter(ends_on=None, **values).exists():
            stays.feeding_plan_set(replaces=plan, today=today, **values)
        messages.success(request, f"{subject}: the feeding plan is saved.")
        return redirect(subject)
    context = {"form": form, "subject": subject, "plan": plan, "fast_form": FastForm()}
    return render(request, "husbandry/plan_form.html", context, status=422 if form.errors else 200)


@require_POST
@staff_required
def plan_fast(request: HttpRequest, pk: int) -> HttpResponse:
    plan = get_object_or_404(FeedingPlan.objects.select_related("animal", "enclosure"), pk=pk)
    form = FastForm(request.POST)
    if form.is_valid():
        stays.fast_set(plan=plan, until=form.cleaned_data["until"])
        messages.success(request, "The plan is changed.")
    else:
        messages.error(request, "That is no day. Nothing was changed.")
    return redirect(plan.animal or plan.enclosure)


@require_POST
@staff_required
def plan_end(request: HttpRequest, pk: int) -> HttpResponse:
    plan = get_object_or_404(FeedingPlan.objects.select_related("animal", "enclosure"), pk=pk)
    if plan.ends_on is None:
        stays.feeding_plan_end(plan=plan, today=timezone.localdate())
    messages.success(request, "The feeding plan has ended.")
    return redirect(plan.animal or plan.enclosure)
