"""Addresses of the API, below /api/."""

from django.urls import path
from drf_spectacular.views import SpectacularJSONAPIView
from rest_framework.routers import DefaultRouter

from enclosures import api as enclosures
from filtration import api as filtration
from filtration.harms import api as harms
from husbandry.api import animals, records
from refuge.api.signing_in import SignInView
from refuge.rounds import api as rounds

router = DefaultRouter(use_regex_path=False)
router.include_format_suffixes = False
for prefix, view in {
    "tasks": rounds.TaskViewSet,
    "completions": rounds.CompletionViewSet,
    "areas": enclosures.AreaViewSet,
    "water-sources": enclosures.WaterSourceViewSet,
    "circuits": enclosures.CircuitViewSet,
    "enclosures": enclosures.EnclosureViewSet,
    "water-tests": enclosures.WaterTestViewSet,
    "water-changes": enclosures.WaterChangeViewSet,
    "species": animals.SpeciesViewSet,
    "foods": animals.FoodViewSet,
    "animals": animals.AnimalViewSet,
    "placements": animals.PlacementViewSet,
    "feeding-plans": animals.FeedingPlanViewSet,
    "feedings": records.FeedingViewSet,
    "measurements": records.MeasurementViewSet,
    "health-records": records.HealthRecordViewSet,
    "head-counts": records.HeadCountViewSet,
    "filters": filtration.FilterViewSet,
    "maintenance": filtration.MaintenanceViewSet,
    "filter-harms": harms.HarmViewSet,
}.items():
    router.register(prefix, view, basename=f"api-{prefix}")

urlpatterns = [
    path("sign-in/", SignInView.as_view(), name="api-sign-in"),
    path("schema/", SpectacularJSONAPIView.as_view(), name="api-schema"),
    *router.urls,
]
