from django.urls import path

from husbandry import arrival_views

urlpatterns = [
    path("arrivals/new/", arrival_views.arrival_new, name="arrival_new"),
    path("arrivals/outlook/", arrival_views.arrival_outlook, name="arrival_outlook"),
]
