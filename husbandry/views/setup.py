"""The manager's forms for species, foods, and what is known of an animal."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from husbandry.models import Animal, Food, Species
from husbandry.services import animal_save, food_save, species_save
from husbandry.setup_forms import AnimalDataForm, FoodForm, SpeciesForm
from refuge.pages.editing import edit_page, model_form
from refuge.people.access import manager_required, staff_required


@require_http_methods(["GET", "POST"])
@manager_required
def species_edit(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    species = get_object_or_404(Species, pk=pk) if pk else None
    return _edit(request, SpeciesForm, species, "species", lambda row: species_save(species=row))


@require_http_methods(["GET", "POST"])
@manager_required
def food_edit(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    food = get_object_or_404(Food, pk=pk) if pk else None
    return _edit(request, FoodForm, food, "a food", lambda row: food_save(food=row))


def _edit(
    request: HttpRequest, form_class: type[forms.ModelForm], instance: Any, noun: str, save: Any
) -> HttpResponse:
    return edit_page(
        request,
        model_form(request, form_class, instance),
        lambda form: save(form.save(commit=False)),
        title=f"Change {instance}" if instance else f"Add {noun}",
        done="{} is saved.",
        back=reverse("site_setup"),
    )


@require_http_methods(["GET", "POST"])
@staff_required
def animal_edit(request: HttpRequest, pk: int) -> HttpResponse:
    animal = get_object_or_404(Animal, pk=pk)
    return edit_page(
        request,
        model_form(request, AnimalDataForm, animal),
        lambda form: animal_save(animal=form.save(commit=False), by=request.user),
        title=f"Change {animal}",
        done="{} is saved.",
        back=animal.get_absolute_url(),
    )
