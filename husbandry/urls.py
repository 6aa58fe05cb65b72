from django.urls import include, path

urlpatterns = [
    path("", include("husbandry.arrival_urls")),
    path("", include("husbandry.page_urls")),
]
