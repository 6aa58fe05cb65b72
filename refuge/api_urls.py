"""Addresses of the API, below /api/."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
