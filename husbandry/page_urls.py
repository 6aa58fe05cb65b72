from django.urls import path

from husbandry.views import animals, plans, setup, stays

urlpatterns = [
    path("animals/", animals.animal_list, name="animal_list"),
    path("animals/<int:pk>/", animals.animal_detail, name="animal_detail"),
    path("animals/<int:pk>/history/", animals.animal_history, name="animal_history"),
    path("animals/<int:pk>/record/", animals.animal_record, name="animal_record"),
    path("animals/<int:pk>/where/", animals.animal_where, name="animal_where"),
    path("animals/<int:pk>/photo/", animals.animal_photo, name="animal_photo"),
    path("animals/<int:pk>/edit/", setup.animal_edit, name="animal_edit"),
    path("animals/<int:pk>/move/", stays.animal_move, name="animal_move"),
    path("animals/<int:pk>/leave/", stays.animal_leave, name="animal_leave"),
    path("animals/<int:pk>/brumation/", stays.brumation_begin, name="brumation_begin"),
    path("animals/<int:pk>/brumation/end/", stays.brumation_end, name="brumation_end"),
    path("animals/<int:pk>/plan/", plans.animal_plan_new, name="animal_plan_new"),
    path("enclosures/<int:pk>/move-in/", stays.enclosure_move_in, name="enclosure_move_in"),
    path("enclosures/<int:pk>/water/", stays.enclosure_replumb, name="enclosure_replumb"),
    path("enclosures/<int:pk>/plan/", plans.enclosure_plan_new, name="enclosure_plan_new"),
    path("feeding-plans/<int:pk>/", plans.plan_edit, name="plan_edit"),
    path("feeding-plans/<int:pk>/fast/", plans.plan_fast, name="plan_fast"),
    path("feeding-plans/<int:pk>/end/", plans.plan_end, name="plan_end"),
    path("site/species/new/", setup.species_edit, name="species_new"),
    path("site/species/<int:pk>/", setup.species_edit, name="species_edit"),
    path("site/foods/new/", setup.food_edit, name="food_new"),
    path("site/foods/<int:pk>/", setup.food_edit, name="food_edit"),
]
