"""Moving, re-plumbing, brumation, leaving. A restart of a quarantine is shown and must be agreed to."""

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from enclosures.models import Enclosure
from husbandry import moves, stays
from husbandry.models import Animal
from husbandry.stay_forms import BrumationForm, LeaveForm, MoveForm, MoveInForm, ReplumbForm
from refuge.errors import ClearmereError
from refuge.people.access import manager_required, staff_required

Act = Callable[[dict[str, Any]], Any]


@require_http_methods(["GET", "POST"])
@staff_required
def animal_move(request: HttpRequest, pk: int) -> HttpResponse:
    animal = get_object_or_404(Animal, pk=pk, status=Animal.Status.HERE)

    def move(data: dict[str, Any]) -> None:
        moves.animal_move(animal=animal, by=request.user, **data)

    return _step(request, MoveForm(request.POST or None), move, animal, f"Move {animal}", "Move it")


@require_http_methods(["GET", "POST"])
@staff_required
def enclosure_move_in(request: HttpRequest, pk: int) -> HttpResponse:
    enclosure = get_object_or_404(Enclosure, pk=pk)

    def move(data: dict[str, Any]) -> None:
        moves.animal_move(enclosure=enclosure, by=request.user, **data)

    title = f"Move an animal to {enclosure}"
    return _step(request, MoveInForm(request.POST or None), move, enclosure, title, "Move it in")


@require_http_methods(["GET", "POST"])
@manager_required
def enclosure_replumb(request: HttpRequest, pk: int) -> HttpResponse:
    enclosure = get_object_or_404(Enclosure, pk=pk)

    def replumb(data: dict[str, Any]) -> None:
        stays.enclosure_replumb(
            enclosure=enclosure, by=request.user, at=timezone.now(), today=timezone.localdate(), **data
        )

    title = f"Join {enclosure} to another water"
    return _step(request, ReplumbForm(request.POST or None), replumb, enclosure, title, "Join it")


@require_http_methods(["GET", "POST"])
@manager_required
def animal_leave(request: HttpRequest, pk: int) -> HttpResponse:
    animal = get_object_or_404(Animal, pk=pk)
    if request.method == "GET" and animal.status != Animal.Status.HERE:
        return redirect(animal)

    def leave(data: dict[str, Any]) -> None:
        stays.animal_leave(animal=animal, by=request.user, **data)

    title = f"{animal} leaves"
    return _step(request, LeaveForm(request.POST or None), leave, animal, title, "It has left")


@require_http_methods(["GET", "POST"])
@staff_required
def brumation_begin(request: HttpRequest, pk: int) -> HttpResponse:
    animal = get_object_or_404(Animal, pk=pk, status=Animal.Status.HERE)
    form = BrumationForm(request.POST or None, initial={"since": timezone.localdate()})
    title = f"Brumation of {animal} begins"

    def begin(data: dict[str, Any]) -> None:
        stays.brumation_set(animal=animal, by=request.user, **data)

    return _step(request, form, begin, animal, title, "Save")


@require_POST
@staff_required
def brumation_end(request: HttpRequest, pk: int) -> HttpResponse:
    animal = get_object_or_404(Animal, pk=pk)
    stays.brumation_set(animal=animal, since=None, by=request.user)
    messages.success(request, f"{animal} is awake again.")
    return redirect(animal)


def _step(
    request: HttpRequest, form: forms.Form, act: Act, subject: Any, title: str, word: str
) -> HttpResponse:
    restarts: list[moves.Restart] = []
    if request.method == "POST" and form.is_valid():
        try:
            act(form.cleaned_data)
        except moves.RestartNotAgreed as refusal:
            restarts = refusal.restarts
            form.add_error(None, str(refusal))
        except moves.WrongTime as error:
            form.add_error("at" if "at" in form.fields else None, str(error))
        except ClearmereError as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"{subject}: saved.")
            return redirect(subject)
    context = {"form": form, "subject": subject, "title": title, "word": word, "restarts": restarts}
    status = 422 if form.errors else 200
    return render(request, "husbandry/step.html", context, status=status)
