from django.urls import include, path

from refuge.rounds.views import notices, records, round, tasks

urlpatterns = [
    path("", round.today, name="today"),
    path("here/", round.here, name="here"),
    path("tasks/<int:pk>/", tasks.task_detail, name="task_detail"),
    path("tasks/<int:pk>/done/", tasks.task_finish, name="task_finish"),
    path("tasks/<int:pk>/assign/", tasks.task_assign, name="task_assign"),
    path("completions/<uuid:uuid>/undo/", tasks.completion_undo, name="completion_undo"),
    path("record/<slug:key>/<int:subject_id>/", records.record_new, name="record_new"),
    path("amend/<str:kind>/<int:pk>/", records.record_amend, name="record_amend"),
    path("amend/<str:kind>/<int:pk>/strike-out/", records.record_strike_out, name="record_strike_out"),
    path("notices/", notices.notice_list, name="notice_list"),
    path("notices/read/", notices.notices_read, name="notices_read"),
    path("notices/<int:pk>/", notices.notice_open, name="notice_open"),
    path("", include("refuge.rounds.manager_urls")),
]
