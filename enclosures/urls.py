from django.urls import path

from enclosures.views import circuits, enclosures, setup, site

urlpatterns = [
    path("waters/", circuits.circuit_list, name="circuit_list"),
    path("waters/new/", setup.circuit_new, name="circuit_new"),
    path("waters/<int:pk>/", circuits.circuit_detail, name="circuit_detail"),
    path("waters/<int:pk>/edit/", setup.circuit_edit, name="circuit_edit"),
    path("waters/<int:pk>/history/", circuits.circuit_history, name="circuit_history"),
    path("waters/<int:pk>/record/", circuits.circuit_record, name="circuit_record"),
    path("enclosures/", enclosures.enclosure_list, name="enclosure_list"),
    path("enclosures/new/", setup.enclosure_new, name="enclosure_new"),
    path("enclosures/<int:pk>/", enclosures.enclosure_detail, name="enclosure_detail"),
    path("enclosures/<int:pk>/edit/", setup.enclosure_edit, name="enclosure_edit"),
    path("enclosures/<int:pk>/history/", enclosures.enclosure_history, name="enclosure_history"),
    path("enclosures/<int:pk>/label/", enclosures.enclosure_label, name="enclosure_label"),
    path("site/", site.site_setup, name="site_setup"),
    path("site/areas/new/", setup.area_new, name="area_new"),
    path("site/areas/<int:pk>/", setup.area_edit, name="area_edit"),
    path("site/water-sources/new/", setup.source_new, name="source_new"),
    path("site/water-sources/<int:pk>/", setup.source_edit, name="source_edit"),
]
