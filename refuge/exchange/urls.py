from django.urls import path

from refuge.exchange import views

urlpatterns = [
    path("files/", views.file_list, name="file_list"),
    path("files/everything.zip", views.export_zip, name="export_zip"),
    path("files/everything.xlsx", views.export_xlsx, name="export_xlsx"),
    path("files/<slug:key>/", views.file_kind, name="file_kind"),
    path("files/<slug:key>/confirm/", views.file_confirm, name="file_confirm"),
    path("files/<slug:key>/template.csv", views.template_csv, name="template_csv"),
    path("files/<slug:key>/template.xlsx", views.template_xlsx, name="template_xlsx"),
]
