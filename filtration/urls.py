from django.urls import path

from filtration.views import filters, setup

urlpatterns = [
    path("filters/", filters.filter_list, name="filter_list"),
    path("filters/new/", setup.filter_new, name="filter_new"),
    path("filters/<int:pk>/", filters.filter_detail, name="filter_detail"),
    path("filters/<int:pk>/edit/", setup.filter_edit, name="filter_edit"),
    path("filters/<int:pk>/history/", filters.filter_history, name="filter_history"),
    path("filters/<int:pk>/label/", filters.filter_label, name="filter_label"),
]
