"""Files in and out, for managers."""

from typing import IO, Any, cast

from django.contrib import messages
from django.http import (
    FileResponse,
    Http404,
    HttpRequest,
    HttpResponse,
    HttpResponseBase,
    StreamingHttpResponse,
)
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from refuge.exchange import waiting
from refuge.exchange.blank import template_book, template_line
from refuge.exchange.errors import FileProblem
from refuge.exchange.forms import UploadForm
from refuge.exchange.importing import Outcome, import_file, preview
from refuge.exchange.reading import LARGEST_FILE, MOST_ROWS
from refuge.exchange.registry import importable, table, tables
from refuge.exchange.writing import readme, xlsx_file, zip_chunks
from refuge.people.access import manager_required
from refuge.people.models import Refuge, User

ROWS_SHOWN = 200
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def _kind(key: str) -> Any:
    try:
        kind = table(key)
    except KeyError:
        raise Http404("There is no such table.") from None
    if kind.row_form is None:
        raise Http404("This table is written out only.")
    return kind


@require_GET
@manager_required
def file_list(request: HttpRequest) -> HttpResponse:
    """What can be read in, and everything to take along."""
    return render(request, "exchange/file_list.html", {"kinds": importable()})


@require_http_methods(["GET", "POST"])
@manager_required
def file_kind(request: HttpRequest, key: str) -> HttpResponse:
    """The columns of one kind of file; a file sent here is shown as it would come in."""
    kind = _kind(key)
    sent = request.method == "POST"
    form = UploadForm(request.POST, request.FILES) if sent else UploadForm()
    if sent and form.is_valid():
        file = form.cleaned_data["file"]
        try:
            return _preview(request, kind, file.read(), file.name)
        except FileProblem as problem:
            form.add_error("file", str(problem))
    return render(request, "exchange/file_kind.html", _kind_context(kind, form), status=422 if sent else 200)


def _kind_context(kind: Any, form: UploadForm) -> dict[str, Any]:
    return {
        "kind": kind,
        "form": form,
        "columns": kind.explained(),
        "most_rows": MOST_ROWS,
        "most_mb": LARGEST_FILE // 1048576,
    }


def _preview(request: HttpRequest, kind: Any, content: bytes, name: str, notice: str = "") -> HttpResponse:
    """What the file would do; it waits for the confirmation unless something is wrong with it."""
    by = cast(User, request.user)
    outcome = preview(key=kind.key, content=content, name=name, by=by)
    token = ""
    if not outcome.mistakes and outcome.new + outcome.changed:
        token = waiting.keep(content, name=name, key=kind.key, counts=outcome.counts, by=by)
    context = {
        "kind": kind,
        "name": name,
        "outcome": outcome,
        "token": token,
        "notice": notice,
        **_shown(outcome),
    }
    return render(request, "exchange/preview.html", context, status=422 if outcome.mistakes else 200)


def _shown(outcome: Outcome) -> dict[str, Any]:
    """The rows to show: those that would change something first."""
    rows = sorted(outcome.rows, key=lambda row: row.state == "unchanged")
    return {
        "rows": rows[:ROWS_SHOWN],
        "rows_left": max(len(rows) - ROWS_SHOWN, 0),
        "mistakes": outcome.mistakes[:ROWS_SHOWN],
        "mistakes_left": max(len(outcome.mistakes) - ROWS_SHOWN, 0),
    }


@require_POST
@manager_required
def file_confirm(request: HttpRequest, key: str) -> HttpResponse:
    """Read in what the preview showed; if it would do something else by now, show that first."""
    kind, by = _kind(key), cast(User, request.user)
    try:
        file = waiting.find(request.POST.get("token", ""), by=by, key=key)
        content = waiting.take(file)
        now = preview(key=key, content=content, name=file.name, by=by)
        if now.mistakes or now.counts != file.counts:
            words = "Something here has changed since you looked. This is what the file would do now."
            return _preview(request, kind, content, file.name, words)
        done = import_file(key=key, content=content, name=file.name, by=by)
    except FileProblem as problem:
        messages.error(request, str(problem))
        return redirect("file_kind", key)
    messages.success(
        request,
        f"{kind.title}: {done.new} new, {done.changed} changed. {done.unchanged} were as in the file.",
    )
    return redirect("file_list")


@require_GET
@manager_required
def template_csv(request: HttpRequest, key: str) -> HttpResponse:
    """An empty file with the names of the columns."""
    response = HttpResponse("\ufeff" + template_line(_kind(key)), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{key}.csv"'
    return response


@require_GET
@manager_required
def template_xlsx(request: HttpRequest, key: str) -> HttpResponseBase:
    """The same as a workbook, with a second sheet that explains the columns."""
    return _attached(template_book(_kind(key)), f"{key}.xlsx")


def _attached(book: IO[bytes], name: str) -> FileResponse:
    return FileResponse(book, as_attachment=True, filename=name, content_type=XLSX)


def _export_name(ending: str) -> str:
    return f"clearmere-{timezone.localdate()}.{ending}"


def _readme(request: HttpRequest, every: list[Any]) -> tuple[str, Refuge]:
    refuge: Refuge = request.refuge  # type: ignore[attr-defined]
    return readme(every, refuge, timezone.now()), refuge


@require_GET
@never_cache
@manager_required
def export_zip(request: HttpRequest) -> HttpResponseBase:
    """Everything, one CSV file a table, sent while it is read."""
    every = tables()
    words, refuge = _readme(request, every)
    chunks = zip_chunks(every, words, refuge.zone)
    response = StreamingHttpResponse(chunks, content_type="application/zip")
    response["Content-Disposition"] = f'attachment; filename="{_export_name("zip")}"'
    response["Content-Encoding"] = "identity"  # it is packed already
    return response


@require_GET
@never_cache
@manager_required
def export_xlsx(request: HttpRequest) -> HttpResponseBase:
    """Everything in one workbook, one sheet a table."""
    every = tables()
    words, refuge = _readme(request, every)
    book = xlsx_file(every, words, refuge.zone)
    return _attached(book, _export_name("xlsx"))
