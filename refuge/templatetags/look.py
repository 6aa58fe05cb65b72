"""Template tags of the look: icons, states, due words, form fields, small drawings, navigation.

A tag that draws a component renders a partial of templates/components, where its markup is.
"""

import re
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from functools import cache, lru_cache
from itertools import zip_longest
from pathlib import Path
from typing import Any

import segno
from django import forms, template
from django.forms.boundfield import BoundField
from django.template.loader_tags import BLOCK_CONTEXT_KEY
from django.templatetags.static import static
from django.urls import NoReverseMatch, reverse
from django.utils.formats import date_format
from django.utils.html import escape, format_html
from django.utils.safestring import SafeString, mark_safe

from refuge.forms import QuantityField
from refuge.sparkline import course_words
from refuge.sparkline import sparkline as lay_out_sparkline

register = template.Library()

SPRITE = Path(__file__).resolve().parent.parent / "static" / "clearmere" / "icons.svg"
STATES = ("good", "watch", "act", "unknown")
DAYS_SAID_AS_DAYS = 13
DAYS_SAID_AS_WEEKS = 56
NUMBERS = (int, float, Decimal)


@cache
def icon_names() -> frozenset[str]:
    """Every name that {% icon %} can draw."""
    return frozenset(re.findall(r'<symbol id="([^"]+)"', SPRITE.read_text(encoding="utf-8")))


@register.simple_tag
@lru_cache(
    maxsize=512
)  # a list of tasks draws hundreds, and asking the storage for the address is the dear part
def icon(name: str, label: str = "") -> SafeString:
    """Draw one icon. Without a label it is decoration: the words beside it must say the same."""
    if name not in icon_names():
        raise ValueError(f"no icon is called {name!r}; there are {', '.join(sorted(icon_names()))}")
    href = f"{static('clearmere/icons.svg')}#{name}"
    spoken = (
        format_html('role="img" aria-label="{}"', escape(label)) if label else mark_safe('aria-hidden="true"')
    )
    return format_html('<svg class="icon" {}><use href="{}"/></svg>', spoken, href)


@register.filter
def icon_or(name: str | None, fallback: str) -> str:
    """The name if it can be drawn, else the fallback: for names that come from data."""
    return name if name in icon_names() else fallback


@register.simple_tag
def url_or_none(name: str, *args: Any, **kwargs: Any) -> str | None:
    """The address of a named page, or None when this installation has no such page."""
    try:
        return reverse(name, args=args, kwargs=kwargs)
    except NoReverseMatch:
        return None


@register.simple_tag(takes_context=True)
def block_again(context: template.Context, name: str) -> str:
    """Render a block of the page a second time, so that the title can also be the heading."""
    blocks = context.render_context.get(BLOCK_CONTEXT_KEY)
    block = blocks.get_block(name) if blocks else None
    return block.nodelist.render(context).strip() if block else ""


@register.inclusion_tag("components/_nav_link.html", takes_context=True)
def nav_link(
    context: template.Context, url_name: str, text: str, icon: str, count: int = 0
) -> dict[str, Any]:
    """One entry of the main navigation; nothing when the page does not exist."""
    url = url_or_none(url_name)
    path = getattr(context.get("request"), "path", "")
    return {"url": url, "text": text, "icon": icon, "count": count, "current": current_page(path, url)}


def current_page(path: str, url: str | None) -> str:
    """The aria-current value of a link: 'page' on it, 'true' somewhere below it, else empty."""
    if not url or not path.startswith(url):
        return ""
    if path == url:
        return "page"
    return "" if url == "/" else "true"


def due_words(days_late: int | None, due_on: date | None = None) -> tuple[str, str]:
    """How a due day is said: (kind, words), with kind one of over, now, later, unknown.

    days_late: whole days since the due day, negative while it is ahead, None when nobody knows.
    due_on: when given, a day more than eight weeks off is named by its date.
    """
    if days_late is None:
        return "unknown", "not known"
    if days_late == 0:
        return "now", "today"
    kind = "over" if days_late > 0 else "later"
    if days_late == -1:
        return kind, "tomorrow"
    days = abs(days_late)
    if due_on is not None and days > DAYS_SAID_AS_WEEKS:
        return kind, f"{'since' if kind == 'over' else 'on'} {date_format(due_on, 'j M Y')}"
    span = _span_words(days)
    return kind, f"{span} over" if kind == "over" else f"in {span}"


def _span_words(days: int) -> str:
    if days <= DAYS_SAID_AS_DAYS:
        return f"{days} day" if days == 1 else f"{days} days"
    return f"{round(days / 7)} weeks"


@register.inclusion_tag("components/_due.html")
def due(due_on: date | None, today: date) -> dict[str, Any]:
    """When it is due, as word and shape: '3 days over', 'today', 'in 4 days', 'not known'."""
    days_late = None if due_on is None else (today - due_on).days
    kind, words = due_words(days_late, due_on)
    icon = "state-unknown" if kind == "unknown" else f"due-{kind}"
    return {"kind": kind, "words": words, "due_on": due_on, "icon": icon}


@register.inclusion_tag("components/_state.html")
def state(kind: str, words: str) -> dict[str, str]:
    """A status word with its shape: good, watch, act or unknown."""
    if kind not in STATES:
        raise ValueError(f"no state is called {kind!r}; there are {', '.join(STATES)}")
    return {"kind": kind, "words": words, "icon": f"state-{kind}"}


@register.inclusion_tag("components/_progress.html")
def progress(done: int, total: int, words: str = "done") -> dict[str, Any]:
    """'14 of 37 done' over a bar."""
    return {"done": done, "total": total, "words": words, "percent": _percent(done, total)}


@register.inclusion_tag("components/_bar.html")
def bar(value: float | None, limit: float, words: str = "", unit: str = "%") -> dict[str, Any]:
    """A level against its limit. Beyond the limit it is hatched and says 'over'; None says 'not known'."""
    top = max(limit * 1.25, value or 0)
    return {
        "value": value,
        "limit": limit,
        "words": words,
        "unit": unit,
        "over": value is not None and value > limit,
        "within": _percent(min(value or 0, limit), top),
        "beyond": _percent((value or 0) - limit, top),
        "mark": _percent(limit, top),
    }


def _percent(part: float, whole: float) -> float:
    return round(100 * max(part, 0) / whole, 1) if whole > 0 else 0.0


@register.inclusion_tag("components/_sparkline.html")
def sparkline(
    values: Sequence[float | None],
    low: float | None = None,
    high: float | None = None,
    label: str = "",
    unit: str = "",
    width: float = 120.0,
    height: float = 32.0,
) -> dict[str, Any]:
    """Readings, oldest first, as a small line; gaps stay gaps; readings beyond a limit get a diamond.

    Its course is told in words too, after the label: for who does not see it.
    """
    drawing = lay_out_sparkline(values, low, high, width=width, height=height)
    said = ", ".join(words for words in (label, course_words(values, unit)) if words)
    return {"drawing": drawing, "label": said}


@register.simple_tag
def qr(content: str) -> SafeString:
    """The content as a QR symbol (ISO/IEC 18004), error correction M, drawn inline."""
    symbol = segno.make(content, error="m", micro=False)
    return mark_safe(symbol.svg_inline(scale=4, border=2, dark="#000", light="#fff", omitsize=True))


@register.inclusion_tag("components/_table.html")
def table(head: Sequence[str], rows: Iterable[Sequence[Any]], caption: str = "") -> dict[str, Any]:
    """A table whose rows stack on a phone. Columns of numbers align right; a cell may be safe HTML."""
    rows = [tuple(row) for row in rows]
    if wrong := [row for row in rows if len(row) != len(head)]:
        raise ValueError(f"a row has {len(wrong[0])} cells under {len(head)} headings: {wrong[0]!r}")
    numeric = [any(isinstance(value, NUMBERS) for value in column) for column in zip(*rows, strict=True)]
    columns = [
        {"label": label, "number": number} for label, number in zip_longest(head, numeric, fillvalue=False)
    ]
    body = [[column | {"value": value} for column, value in zip(columns, row, strict=True)] for row in rows]
    return {"caption": caption, "head": columns, "rows": body}


@register.inclusion_tag("components/_field.html")
def field(bound: BoundField, **options: Any) -> dict[str, Any]:
    """One form field: label, input with its unit, help, and errors beside it, wired for screen readers.

    Options: unit, help, label, icons (names for the choices, spaced), keypad (an inputmode), optional
    (False leaves the word 'optional' out), and any attribute for the input.
    """
    unit = str(options.get("unit") or getattr(bound.field, "unit", ""))
    help_text = options.get("help") or bound.help_text
    kind = field_kind(bound)
    described = described_by(bound, unit=unit, help_text=str(help_text))
    choices = kind == "choices"
    return {
        "bound": bound,
        "id": bound.auto_id,
        "kind": kind,
        "control": "" if choices else bound.as_widget(attrs=input_attrs(bound, options, described)),
        "choices": choice_parts(bound, options.get("icons", "")) if choices else [],
        "label": options.get("label") or bound.label,
        "unit": unit,
        "any_unit": isinstance(bound.field, QuantityField),
        "help": help_text,
        "errors": [error_parts(message) for message in bound.errors],
        "described": described,
        "optional": options.get("optional", True) and not bound.field.required and kind != "tick",
    }


FIELD_OPTIONS = {"unit", "help", "label", "icons", "keypad", "optional"}
CHOICE_WIDGETS = (forms.RadioSelect, forms.CheckboxSelectMultiple)


def input_attrs(bound: BoundField, options: dict[str, Any], described: str) -> dict[str, Any]:
    """The attributes of the input: those of the page, its keypad, and what describes it."""
    attrs = {name.replace("_", "-"): value for name, value in options.items() if name not in FIELD_OPTIONS}
    if keypad := options.get("keypad") or keypad_for(bound):
        attrs.setdefault("inputmode", keypad)
    if described:
        attrs["aria-describedby"] = described
    return attrs


def field_kind(bound: BoundField) -> str:
    """How the field is laid out: hidden, tick, choices or line."""
    widget = bound.field.widget
    if widget.is_hidden:
        return "hidden"
    if isinstance(widget, CHOICE_WIDGETS):
        return "choices"
    return "tick" if isinstance(widget, forms.CheckboxInput) else "line"


def keypad_for(bound: BoundField) -> str:
    """The keypad a phone should show, from what the field accepts; empty leaves it to the browser."""
    if not isinstance(bound.field.widget, forms.TextInput) or "inputmode" in bound.field.widget.attrs:
        return ""
    if isinstance(bound.field, forms.FloatField | forms.DecimalField) or hasattr(bound.field, "unit"):
        return "decimal"
    return "numeric" if isinstance(bound.field, forms.IntegerField) else ""


def described_by(bound: BoundField, *, unit: str, help_text: str) -> str:
    """The ids that explain this input, in reading order: unit, help, error."""
    wanted = (("unit", unit), ("helptext", help_text), ("error", bound.errors))
    return " ".join(f"{bound.auto_id}_{suffix}" for suffix, given in wanted if given and bound.auto_id)


def choice_parts(bound: BoundField, icons: str) -> list[dict[str, Any]]:
    """The choices of a radio or checkbox group, each with its icon if one is named."""
    names = icons.split()
    return [
        {"option": option, "icon": names[index] if index < len(names) else ""}
        for index, option in enumerate(bound.subwidgets)
    ]


def error_parts(message: object) -> dict[str, str]:
    """An error as its first line, set strong, and the rest: what is wrong, then why and what would do."""
    head, _, rest = str(message).strip().partition("\n")
    return {"head": head, "rest": rest.strip()}


@register.inclusion_tag("components/_form_errors.html")
def form_errors(form: forms.BaseForm) -> dict[str, Any]:
    """What is wrong with the form as a whole, above its fields."""
    return {"errors": [error_parts(message) for message in form.non_field_errors()]}


@register.inclusion_tag("components/_fields.html")
def fields(form: forms.BaseForm) -> dict[str, Any]:
    """Every field of a simple form in order, with the form's own errors first."""
    return {"form": form}
