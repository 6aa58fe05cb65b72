"""Every address of the site. Each app lists its own."""

from django.conf import settings
from django.contrib import admin
from django.urls import include, path

from refuge.health import healthz

urlpatterns = [
    path("healthz", healthz, name="healthz"),
    path("admin/", admin.site.urls),
    path("", include("refuge.people.urls")),
    path("", include("refuge.rounds.urls")),
    path("", include("enclosures.urls")),
    path("", include("husbandry.urls")),
    path("", include("filtration.urls")),
    path("", include("refuge.exchange.urls")),
    path("api/", include("refuge.api_urls")),
]

if settings.DEBUG:
    from refuge.gallery import gallery

    urlpatterns.append(path("components/", gallery, name="gallery"))
