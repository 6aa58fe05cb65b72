from django.urls import path

from husbandry.arrivals import views

urlpatterns = [
    path("arrivals/new/", views.arrival_new, name="arrival_new"),
    path("arrivals/outlook/", views.arrival_outlook, name="arrival_outlook"),
]
