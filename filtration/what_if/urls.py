from django.urls import path

from filtration.what_if import views

urlpatterns = [path("waters/<int:pk>/what-if/", views.what_if, name="what_if")]
