"""The manager's forms for areas, sources of water, waters and enclosures."""

from typing import cast

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from enclosures import services
from enclosures.forms import AreaForm, CircuitForm, EnclosureChangeForm, EnclosureForm, WaterSourceForm
from enclosures.models import Area, Circuit, Enclosure, WaterSource
from refuge.pages.editing import edit_page, model_form
from refuge.people.access import manager_required
from refuge.people.models import User


@require_http_methods(["GET", "POST"])
@manager_required
def area_new(request: HttpRequest) -> HttpResponse:
    return _area(request, None)


@require_http_methods(["GET", "POST"])
@manager_required
def area_edit(request: HttpRequest, pk: int) -> HttpResponse:
    return _area(request, get_object_or_404(Area, pk=pk))


def _area(request: HttpRequest, area: Area | None) -> HttpResponse:
    return edit_page(
        request,
        model_form(request, AreaForm, area),
        lambda form: services.area_save(area=form.save(commit=False)),
        title=f"Change {area}" if area else "Add an area",
        done="{} is saved.",
        back=reverse("site_setup"),
    )


@require_http_methods(["GET", "POST"])
@manager_required
def source_new(request: HttpRequest) -> HttpResponse:
    return _source(request, None)


@require_http_methods(["GET", "POST"])
@manager_required
def source_edit(request: HttpRequest, pk: int) -> HttpResponse:
    return _source(request, get_object_or_404(WaterSource, pk=pk))


def _source(request: HttpRequest, source: WaterSource | None) -> HttpResponse:
    return edit_page(
        request,
        model_form(request, WaterSourceForm, source),
        lambda form: services.water_source_save(source=form.save(commit=False)),
        title=f"Change {source}" if source else "Add a source of water",
        done="{} is saved.",
        back=reverse("site_setup"),
    )


@require_http_methods(["GET", "POST"])
@manager_required
def circuit_new(request: HttpRequest) -> HttpResponse:
    return _circuit(request, None)


@require_http_methods(["GET", "POST"])
@manager_required
def circuit_edit(request: HttpRequest, pk: int) -> HttpResponse:
    return _circuit(request, get_object_or_404(Circuit, pk=pk))


def _circuit(request: HttpRequest, circuit: Circuit | None) -> HttpResponse:
    return edit_page(
        request,
        model_form(request, CircuitForm, circuit),
        lambda form: services.circuit_save(circuit=form.save(commit=False), by=cast(User, request.user)),
        title=f"Change {circuit}" if circuit else "Add a water",
        done="{} is saved.",
        back=circuit.get_absolute_url() if circuit else reverse("site_setup"),
        go_to=lambda saved: saved.get_absolute_url(),
    )


@require_http_methods(["GET", "POST"])
@manager_required
def enclosure_new(request: HttpRequest) -> HttpResponse:
    """Its water may be chosen beforehand, by the address."""
    asked = request.GET.get("water", "")
    initial = {"circuit": int(asked)} if asked.isdecimal() else {}
    return _enclosure(request, None, EnclosureForm, initial)


@require_http_methods(["GET", "POST"])
@manager_required
def enclosure_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """All but its water: joining another water is a step of its own, because animals come to share pathogens."""
    return _enclosure(request, get_object_or_404(Enclosure, pk=pk), EnclosureChangeForm, {})


def _enclosure(
    request: HttpRequest,
    enclosure: Enclosure | None,
    form_class: type[EnclosureForm],
    initial: dict[str, int],
) -> HttpResponse:
    return edit_page(
        request,
        model_form(request, form_class, enclosure, initial=initial),
        lambda form: services.enclosure_save(enclosure=form.save(commit=False), by=cast(User, request.user)),
        title=f"Change {enclosure}" if enclosure else "Add an enclosure",
        done="{} is saved.",
        back=enclosure.get_absolute_url() if enclosure else reverse("site_setup"),
        go_to=lambda saved: saved.get_absolute_url(),
        subject=enclosure,
    )
