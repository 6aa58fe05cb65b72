"""The animals: a list to search, one of them whole, where it was on a day, its photo, its record on paper."""

from datetime import date
from typing import Any
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from husbandry import selectors
from husbandry.charts import growth_figure
from husbandry.held import tell_held
from husbandry.models import Animal
from refuge.pages.panels import Page
from refuge.pages.subject import history_of, page_context, subject_page, whole_history
from refuge.people.access import volunteer_required
from refuge.units import label, to_shown

ON_A_PAGE = 50
WHICH = {"here": "Here", "quarantine": "In quarantine", "gone": "Gone", "all": "All"}
QUARANTINE_ONLY = {"quarantine_look", "quarantine_check", "quarantine_review"}


@require_GET
@volunteer_required
def animal_list(request: HttpRequest) -> HttpResponse:
    """Animals by what is known of them: code, name, marks, transponder, species."""
    words, which = request.GET.get("q", "").strip()[:80], request.GET.get("which", "here")
    which = which if which in WHICH else "here"
    found = Paginator(selectors.animals(words=words, which=which), ON_A_PAGE).get_page(
        request.GET.get("page")
    )
    query = urlencode({"q": words, "which": which}) + "&"
    context = {"animals": found, "words": words, "which": which, "choices": WHICH.items(), "query": query}
    return render(request, "husbandry/animal_list.html", context)


def _page(request: HttpRequest, pk: int) -> Page:
    animal = get_object_or_404(Animal.objects.select_related("species"), pk=pk)
    here = animal.placements.filter(ends_at__isnull=True).select_related("enclosure", "circuit").first()
    animal.place = here
    return subject_page(request, "animal", animal, here.circuit_id if here else None)


@require_GET
@volunteer_required
def animal_detail(request: HttpRequest, pk: int) -> HttpResponse:
    """One animal: where it is, what is due, quarantine, weight, food, health, what happened."""
    page = _page(request, pk)
    animal = page.subject
    context = _animal(page)
    left_out = set() if context["quarantine"] else QUARANTINE_ONLY
    if animal.status != Animal.Status.HERE:
        left_out |= {"animal_feeding", "measurement"}
    return render(
        request, "husbandry/animal_detail.html", page_context(request, page, leave_out=left_out) | context
    )


def _animal(page: Page) -> dict[str, Any]:
    animal = page.subject
    weights = selectors.weights(animal.pk)
    stays = list(selectors.quarantines(animal.pk))
    place = animal.place
    quarantine = next((each for each in stays if each.released_on is None), None)
    return {
        "animal": animal,
        "place": place,
        "sharing": max(len(page.facts.animal) - 1, 0),
        "quarantine": quarantine,
        "quarantine_day": (page.today - quarantine.clock_from).days + 1 if quarantine else None,
        "past_quarantines": [each for each in stays if each.released_on is not None],
        "weights": [to_shown(kg, "mass", page.system) for _, kg, _ in weights if kg is not None][-24:],
        "weight_unit": label("mass", page.system),
        "last_weight": next(((at, kg) for at, kg, _ in reversed(weights) if kg is not None), None),
        "figure": growth_figure(weights, page.system),
        "meals": selectors.meals(animal.pk),
        "findings": selectors.findings(animal.pk),
        "plans": tell_held(
            selectors.plans_of(
                enclosure_id=place.enclosure_id if place else None, animal_ids=[animal.pk], today=page.today
            ),
            page.facts,
        ),
    }


@require_GET
@volunteer_required
def animal_history(request: HttpRequest, pk: int) -> HttpResponse:
    """More of an animal's history, as a part of its page."""
    get_object_or_404(Animal, pk=pk)
    return render(request, "pages/_history.html", {"history": history_of(request, "animal", pk)})


@require_GET
@volunteer_required
def animal_record(request: HttpRequest, pk: int) -> HttpResponse:
    """An animal's whole record, to read or print."""
    page = _page(request, pk)
    context = _animal(page) | {"page": page, "today": page.today}
    context["entries"] = whole_history(request, "animal", pk)
    return render(request, "husbandry/animal_record.html", context)


@require_GET
@volunteer_required
def animal_where(request: HttpRequest, pk: int) -> HttpResponse:
    """Where an animal was on a day, and with whom it shared water."""
    animal = get_object_or_404(Animal, pk=pk)
    try:
        day = date.fromisoformat(request.GET.get("on", ""))
    except ValueError:
        day = None
    zone = request.refuge.zone  # type: ignore[attr-defined]
    context = {"animal": animal, "day": day}
    if day is not None:
        context["places"] = selectors.where_on(animal, day, zone)
        context["shared"] = selectors.shared_water_on(animal, day, zone)
    template = "husbandry/_where.html" if request.htmx else "husbandry/animal_where.html"  # type: ignore[attr-defined]
    return render(request, template, context)


@require_GET
@volunteer_required
def animal_photo(request: HttpRequest, pk: int) -> FileResponse:
    """An animal's photo, for people who are signed in."""
    animal = get_object_or_404(Animal, pk=pk)
    try:
        photo = animal.photo.open("rb")
    except (ValueError, OSError):
        raise Http404("There is no photo of this animal.") from None
    headers = {"X-Content-Type-Options": "nosniff", "Cache-Control": "private, max-age=3600"}
    return FileResponse(photo, content_type="image/jpeg", headers=headers)
