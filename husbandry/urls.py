from django.urls import include, path

urlpatterns = [
    path("", include("husbandry.arrivals.urls")),
    path("", include("husbandry.page_urls")),
]
