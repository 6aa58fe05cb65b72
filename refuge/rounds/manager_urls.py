from django.urls import path

from refuge.rounds import overview_views

urlpatterns = [
    path("overview/", overview_views.overview_page, name="overview"),
]
