from django.urls import include, path

from filtration.views import filters, forecasts, harms, plan_pages, plans, setup

urlpatterns = [
    path("", include("filtration.what_if.urls")),
    path("waters/<int:pk>/forecast/", forecasts.water_forecast, name="water_forecast"),
    path("waters/<int:pk>/help/", forecasts.water_help, name="water_help"),
    path("forecasts/", forecasts.forecast_scores, name="forecast_scores"),
    path("filters/", filters.filter_list, name="filter_list"),
    path("filters/new/", setup.filter_new, name="filter_new"),
    path("filters/plan/", plans.design_new, name="design_new"),
    path("filters/plan/<int:pk>/", plans.design_edit, name="design_edit"),
    path("filters/plan/<int:pk>/remove/", plans.design_remove, name="design_remove"),
    path("filters/plan/<int:pk>/parts/", plan_pages.design_parts, name="design_parts"),
    path("filters/plan/<int:pk>/steps/", plan_pages.design_steps, name="design_steps"),
    path("filters/plan/<int:pk>/build/", plan_pages.design_build, name="design_build"),
    path("filters/plans/", plans.design_list, name="design_list"),
    path("filters/plans/compare/", plan_pages.design_compare, name="design_compare"),
    path("filters/plans/proposed/", plan_pages.design_propose, name="design_propose"),
    path("filters/<int:pk>/", filters.filter_detail, name="filter_detail"),
    path("filters/harm/<int:pk>/", harms.filter_harm, name="filter_harm"),
    path("filters/harm/<int:pk>/strike-out/", harms.filter_harm_strike_out, name="filter_harm_strike_out"),
    path("filters/harm/<int:pk>/disturbed/", harms.filter_harm_disturbed, name="filter_harm_disturbed"),
    path("filters/<int:pk>/edit/", setup.filter_edit, name="filter_edit"),
    path("filters/<int:pk>/history/", filters.filter_history, name="filter_history"),
    path("filters/<int:pk>/label/", filters.filter_label, name="filter_label"),
]
