"""What a phone must fetch stays small, and the pages keep to the page policy."""

import gzip
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import django_htmx
import pytest

ROOT = Path(__file__).resolve().parents[2]
STATIC = ROOT / "refuge" / "static" / "clearmere"
TEMPLATES = sorted((ROOT / "templates").rglob("*.html"))
COMPONENTS = sorted((ROOT / "templates" / "components").glob("*.html"))
HTMX = Path(django_htmx.__file__).parent / "static" / "django_htmx" / "htmx-2.min.js"


def on_the_wire(*files: Path) -> int:
    """Bytes after gzip, each file by itself as the server sends it."""
    return sum(len(gzip.compress(file.read_bytes())) for file in files)


def test_our_style_and_script_stay_under_twelve_kilobytes() -> None:
    assert on_the_wire(STATIC / "clearmere.css", STATIC / "clearmere.js") < 12_000


EVERYWHERE = {"clearmere.css", "clearmere.js", "icons.svg", "favicon.svg"}


def wanted_by(template: Path) -> set[str]:
    """The files of ours that one template asks for, with those of the head that pages of things share."""
    text = template.read_text(encoding="utf-8")
    if "pages/_head.html" in text:
        text += (ROOT / "templates/pages/_head.html").read_text(encoding="utf-8")
    return EVERYWHERE | set(re.findall(r"static ['\"]clearmere/([\w.]+)['\"]", text))


def test_everything_but_the_page_itself_leaves_it_room_under_sixty() -> None:
    heaviest = max(
        (wanted_by(each) for each in TEMPLATES), key=lambda names: on_the_wire(*(STATIC / n for n in names))
    )
    assert len(heaviest) > len(EVERYWHERE)
    assert on_the_wire(*(STATIC / name for name in heaviest), HTMX) < 38_500


def named(paths: list[Path]) -> list[object]:
    return [pytest.param(path, id=str(path.relative_to(ROOT / "templates"))) for path in paths]


@pytest.mark.parametrize("path", named(TEMPLATES))
def test_no_style_or_script_inside_a_page(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert not re.search(r"<[^>]*\sstyle\s*=", text)
    assert not re.search(r"<[^>]*\son[a-z]+\s*=", text)
    assert not re.search(r"hx-on|<style|javascript:", text)
    assert not re.search(r"<script(?![^>]*\bsrc=)", text)


@pytest.mark.parametrize("path", named([path for path in COMPONENTS if path.name.startswith("_")]))
def test_a_component_says_first_what_it_needs(path: Path) -> None:
    assert path.read_text(encoding="utf-8").startswith("{# Needs ")


def test_every_icon_is_drawn_once_in_the_same_frame() -> None:
    symbols = ET.parse(STATIC / "icons.svg").getroot()
    names = [symbol.get("id") for symbol in symbols]
    assert len(names) == len(set(names)) > 50
    assert {symbol.get("viewBox") for symbol in symbols} == {"0 0 24 24"}


def test_icons_named_in_templates_exist() -> None:
    from refuge.templatetags.look import icon_names

    used = {
        name
        for path in TEMPLATES
        for name in re.findall(r"""\{% icon ["']([^"']+)["']""", path.read_text(encoding="utf-8"))
    }
    assert used
    assert used <= icon_names()
