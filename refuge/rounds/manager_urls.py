from django.urls import path

from refuge.rounds import limit_views, overview_views

urlpatterns = [
    path("overview/", overview_views.overview_page, name="overview"),
    path("limits/", limit_views.limit_list, name="limit_list"),
    path("limits/<str:key>/", limit_views.limit_detail, name="limit_detail"),
    path("limits/<str:key>/preview/", limit_views.limit_preview, name="limit_preview"),
]
