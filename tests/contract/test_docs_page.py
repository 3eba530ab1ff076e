"""The documentation page in a real browser that can reach nothing but the service."""

import re
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from feedproof.api.docs import render_page
from feedproof.api.openapi import document
from support.live_service import live_service
from support.webdriver import Browser, browser

OPERATIONS = sum(len(methods) for methods in document()["paths"].values())


@pytest.fixture(scope="module")
def address(example_requests: dict[str, bytes]) -> Iterator[str]:
    with live_service() as address:
        # The first answer on a fresh machine compiles the engine: no browser is to wait for that.
        httpx.post(
            f"{address}/v1/assessments",
            content=example_requests["connected_high_impedance"],
            headers={"content-type": "application/json"},
            timeout=300.0,
        ).raise_for_status()
        yield address


@pytest.fixture(scope="module")
def window(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with browser(str(tmp_path_factory.mktemp("profile"))) as window:
        yield window


def test_the_page_names_nothing_from_elsewhere_and_holds_no_script_of_its_own() -> None:
    page = render_page(document()).decode()
    sources = re.findall(r"""(?:src|href)=["']([^"']+)["']""", page)
    assert sources
    assert all(source.startswith(("/", "#", "data:")) for source in sources)
    assert re.findall(r"<script[^>]*>([^<]*)</script>", page) == [""]
    assert "<style" not in page
    assert not re.search(r"\son[a-z]+=", page)


def test_the_example_is_sent_from_the_page_and_the_finding_is_seen(window: Browser, address: str) -> None:
    window.resize(1280, 1600)
    window.open(f"{address}/docs")
    assert window.run("return document.title").startswith("feedproof")
    assert "Assess one reading set" in window.text("#assess")
    assert window.run("return document.querySelectorAll('section.operation').length") == OPERATIONS
    window.click("#try-send")
    window.wait("return document.getElementById('try-finding').textContent")
    assert window.text("#try-finding").startswith("Branch neutral bad: ")
    assert window.text("#try-status").startswith("200, request ")
    assert '"disposition": "stop_and_refer"' in window.text("#try-answer")
    assert window.complaints() == []
    asked = window.run("return performance.getEntriesByType('resource').map((entry) => entry.name)")
    assert asked
    assert all(name.startswith(address) for name in asked)


def test_a_refusal_is_shown_with_its_faults(window: Browser, address: str) -> None:
    window.open(f"{address}/docs")
    window.run('document.getElementById(\'try-body\').value = \'{"readings": [], "colour": "red"}\'')
    window.click("#try-send")
    window.wait("return document.getElementById('try-status').textContent.startsWith('422')")
    assert "unknown field 'colour'" in window.text("#try-answer")
    assert window.text("#try-finding") == ""


@pytest.mark.parametrize("operation", ["assess_batch", "list_faults", "show_document", "metrics"])
def test_every_kind_of_operation_can_be_tried(window: Browser, address: str, operation: str) -> None:
    window.open(f"{address}/docs")
    window.run(
        "const select = document.getElementById('try-operation');"
        "select.value = arguments[0]; select.dispatchEvent(new Event('change'));",
        operation,
    )
    window.click("#try-send")
    window.wait("return document.getElementById('try-status').textContent.startsWith('200')")
    assert len(window.text("#try-answer")) > 200


def test_links_lead_somewhere(window: Browser, address: str) -> None:
    window.open(f"{address}/docs")
    assert (
        window.run(
            "return [...document.querySelectorAll('a[href^=\"#\"]')].map((a) => a.getAttribute('href').slice(1))"
            ".filter((id) => !document.getElementById(id))"
        )
        == []
    )


def test_it_fits_a_narrow_screen(window: Browser, address: str) -> None:
    window.resize(400, 900)
    window.open(f"{address}/docs")
    overflow = window.run("return document.documentElement.scrollWidth - document.documentElement.clientWidth")
    window.resize(1280, 1600)
    assert overflow <= 1


def test_what_it_looks_like_is_kept_for_a_person(window: Browser, address: str, tmp_path: Path) -> None:
    window.open(f"{address}/docs")
    picture = window.picture()
    (tmp_path / "docs.png").write_bytes(picture)
    assert picture.startswith(b"\x89PNG")
    assert len(picture) > 20_000


def choose_note(window: Browser, form: str) -> None:
    window.run(
        "const choose = (name, value) => { const select = document.getElementById(name); select.value = value;"
        "select.dispatchEvent(new Event('change')); };"
        "choose('try-operation', 'render_note'); choose('try-accept', arguments[0]);",
        form,
    )


@pytest.mark.parametrize(("form", "shows"), [("text/html", "#first"), ("image/svg+xml", "svg text")])
def test_a_note_is_shown_as_its_reader_sees_it_and_can_run_nothing(
    window: Browser, address: str, form: str, shows: str
) -> None:
    window.open(f"{address}/docs")
    window.complaints()  # those of a test before
    choose_note(window, form)
    window.click("#try-send")
    window.wait("return document.getElementById('try-shown').srcdoc")
    frame = window.run(
        "const frame = document.getElementById('try-shown');"
        "return [frame.getAttribute('sandbox'), frame.hidden, frame.contentDocument === null,"
        "new DOMParser().parseFromString(frame.srcdoc, 'text/html').querySelector(arguments[0]) !== null]",
        shows,
    )
    assert frame == ["", False, True, True]
    # The style sheet of the answer is let in by the page's policy, and nothing else is asked for.
    assert window.complaints() == []


def test_a_pdf_is_saved_and_not_shown_as_letters(window: Browser, address: str) -> None:
    window.open(f"{address}/docs")
    choose_note(window, "application/pdf")
    window.click("#try-send")
    window.wait("return !document.getElementById('try-saved').hidden")
    assert window.text("#try-answer") == ""
    assert window.run("return document.getElementById('try-file').href").startswith("blob:")
