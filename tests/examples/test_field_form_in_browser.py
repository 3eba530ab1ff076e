"""The field form on a phone's screen in a real browser: by thumb, by keyboard alone, and out of coverage."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from support.browser import axe
from support.field_form import BackEnd
from support.service_process import LiveService
from support.webdriver import Browser, browser

pytestmark = pytest.mark.slow

JOB = "INVENTED lakeside campground, cabin 4, range"
#: W3C WebDriver, 17.4.2: keys that are no letters.
TAB, SHIFT, ENTER, SPACE, RIGHT = "\ue004", "\ue008", "\ue007", " ", "\ue014"
SENT = "return document.getElementById('sent').textContent === 'Everything is sent.'"
NOT_SENT = "return document.getElementById('sent').textContent.startsWith('Not sent')"


@pytest.fixture(scope="module")
def window(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with browser(str(tmp_path_factory.mktemp("profile"))) as window:
        yield window


def phone(window: Browser, width: int = 360, height: int = 740, scheme: str = "light") -> None:
    window.devtools("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=2, mobile=True)
    window.devtools("Emulation.setTouchEmulationEnabled", enabled=True)
    window.devtools("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": scheme}])


@pytest.fixture
def form(window: Browser, back_end: BackEnd) -> Browser:
    """Give a phone that has never seen the form."""
    phone(window)
    window.devtools("Storage.clearDataForOrigin", origin=back_end.url, storageTypes="all")
    window.open(back_end.url)
    window.run("localStorage.clear()")
    window.open(back_end.url)
    window.wait("return navigator.serviceWorker.ready.then((worker) => worker.active !== null)")
    # Everything that the worker is to give later is there.
    window.wait(
        "return caches.open('field-form-shell-1').then((shell) => shell.keys()).then((keys) => keys.length >= 6)"
    )
    window.complaints()
    return window


def picture(window: Browser, name: str) -> None:
    """Keep a picture for whoever wants to look: FIELD_FORM_PICTURES names the folder."""
    folder = os.environ.get("FIELD_FORM_PICTURES")
    if folder:
        Path(folder, f"{name}.png").write_bytes(window.picture())


def choose(window: Browser, name: str, value: str) -> None:
    window.tap(f'label:has(input[name="{name}"][value="{value}"])')


def read(window: Browser, meter: str, at: str, value: str, state: str = "disconnected") -> None:
    choose(window, "meter", meter)
    choose(window, "at", at)
    choose(window, "state", state)
    window.type("#value", value)
    window.tap("#reading button.main")


def begin(window: Browser, job: str = JOB) -> None:
    window.type("#reference", job)
    window.tap("#begin-form button.main")


def barriers(window: Browser) -> list[str]:
    """Give what the accessibility checker finds, on the page as it stands."""
    found: list[str] = window.run(
        axe() + ";return axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa',"
        " 'best-practice']}).then((told) => told.violations.map("
        "(v) => `${v.id}: ${v.nodes.map((n) => n.target.join(' ')).join(', ')}`))"
    )
    return found


def overflow(window: Browser) -> int:
    return int(window.run("return document.documentElement.scrollWidth - document.documentElement.clientWidth"))


def test_from_the_first_tap_to_the_note(form: Browser, back_end: BackEnd) -> None:
    picture(form, "1-begin")
    begin(form)
    form.wait("return !document.getElementById('next').hidden")
    # Nothing is read yet: the service says what to read first, and the cautions are there from the start.
    assert form.text("#headline").startswith("Nothing read yet")
    assert form.text("#next-words").startswith("Voltage L1 to L2")
    assert "DANGER" in form.text("#dangers")
    picture(form, "2-plan")

    suggested = []
    for value in ("247", "3.7"):
        words = form.text("#next-words")
        suggested.append(words)
        form.tap("#take")
        # The suggestion is set on the buttons, and the number can be typed at once.
        assert form.run("return document.activeElement.id") == "value"
        at = form.run("return document.querySelector('input[name=at]:checked').value")
        names = [{"N": "neutral", "G": "ground"}.get(name, name) for name in at.split("-")]
        assert f"Voltage {' to '.join(names)}" in words
        if len(suggested) == 2:
            # A suggestion binds nobody: the technician reads something else.
            choose(form, "meter", "dmm")
            choose(form, "at", "L1-N")
            choose(form, "state", "idle")
        form.type("#value", value)
        picture(form, f"3-entry-{len(suggested)}")
        form.tap("#reading button.main")
        form.wait(SENT)
        form.wait("return document.getElementById('behind').hidden")
    assert suggested[0] != suggested[1]
    assert "eutral bad: " in form.text("#headline")
    assert form.text("#action").startswith("Stop.")
    assert form.run("return document.querySelectorAll('#taken li').length") == 2
    # Megohms, not milliohms.
    assert form.text("#taken li:last-child span") == "L1 to neutral: 3.7 V, 10 MΩ voltmeter, connected, not started"
    picture(form, "4-answer")

    form.tap("#finish")
    form.wait("return document.querySelector('#notes-list a')")
    picture(form, "5-note-ready")
    form.tap("#notes-list a")
    form.wait("return document.title.startsWith('Supply assessment')")
    assert JOB in form.text("h1")
    assert "eutral bad: " in form.text("#first")
    assert form.text("#handed") == "Handed over"
    assert overflow(form) <= 0
    picture(form, "6-note")
    assert form.complaints() == []
    # The note is kept on the phone: it opens where the back end cannot be reached, and after the phone was shut.
    back_end.stop()
    try:
        form.open("about:blank")
        form.open(back_end.url)
        form.tap("#notes-list a")
        form.wait("return document.title.startsWith('Supply assessment')")
    finally:
        back_end.start()


def test_by_keyboard_alone(form: Browser) -> None:
    def focused() -> str:
        return str(form.run("const e = document.activeElement; return e.id || e.name || e.textContent"))

    def tab_to(name: str, most: int = 40) -> None:
        for _ in range(most):
            form.press(TAB)
            if focused() == name:
                # Focus is seen: an outline, and inside of what the screen shows (WCAG 2.2, 2.4.7 and 2.4.11).
                seen = form.run(
                    "const e = document.activeElement.closest('label') ?? document.activeElement;"
                    "const box = e.getBoundingClientRect();"
                    "return getComputedStyle(e).outlineStyle !== 'none' && box.bottom > 0 && box.top < innerHeight"
                )
                assert seen, name
                return
        raise AssertionError(f"{name} is not reached by Tab; the focus is at {focused()}")

    tab_to("reference")
    form.press(JOB + ENTER)
    form.wait("return !document.getElementById('next').hidden")
    assert focused() == "visit-title"
    tab_to("take")
    form.press(ENTER)
    assert focused() == "value"
    form.press("247" + ENTER)
    form.wait("return document.querySelectorAll('#taken li').length === 1 && document.getElementById('behind').hidden")
    tab_to("meter")
    form.press(RIGHT)
    assert form.run("return document.querySelector('input[name=meter]:checked').value") == "loz"
    for at in ("L1-N", "L2-N"):
        if focused() != "meter":
            tab_to("meter")
        tab_to("at")
        while form.run("return document.querySelector('input[name=at]:checked').value") != at:
            form.press(RIGHT)
        tab_to("value")
        form.press("7" + ENTER)
        form.wait(SENT)
        form.wait("return document.getElementById('behind').hidden")
    assert form.text("#action").startswith("Stop.")
    tab_to("finish", 60)
    form.press(SPACE)
    assert focused() == "notes-title"
    form.wait("return document.querySelector('#notes-list a')")
    tab_to("Open the note")
    form.press(ENTER)
    form.wait("return document.title.startsWith('Supply assessment')")
    assert form.complaints() == []


def test_readings_are_taken_without_coverage_and_sent_when_there_is_an_answer(form: Browser, back_end: BackEnd) -> None:
    begin(form)
    form.wait(SENT)
    before = form.text("#headline")
    back_end.stop()
    try:
        read(form, "loz", "L1-L2", "247")
        form.wait(NOT_SENT)
        # What was answered before is not passed off as an answer to what was read since.
        assert form.text("#behind") == "Not answered yet: this does not count your latest change."
        assert form.text("#headline") == before
        # Nor is what was suggested before, which may be just what has been read.
        assert form.run("return document.getElementById('next').hidden")
        assert form.run("return document.getElementById('answer').classList.contains('stale')")
        picture(form, "7-not-sent")
        assert barriers(form) == []
        # The phone is shut and opened again, still without coverage: the page is there, and the reading with it.
        form.open("about:blank")
        form.open(back_end.url)
        assert form.text("#visit-title") == JOB
        assert form.text("#taken").startswith("L1 to L2: 247 V, low-impedance voltmeter, disconnected")
        read(form, "loz", "L1-N", "7")
        read(form, "loz", "L2-N", "7")
        form.tap("#finish")
        assert "Kept here; the note comes when the service answers." in form.text("#notes-list")
        begin(form, "INVENTED lakeside campground, cabin 5, dryer")
        assert form.text("#headline") == "No answer yet. Treat every conductor as live."
        assert form.text("#cautions").count("DANGER") == 1
        read(form, "dmm", "L1-L2", "243")
        form.wait(NOT_SENT)
    finally:
        back_end.start()
    # Nobody touches anything: what is kept goes out by itself, the finished visit first.
    form.wait(SENT, 60)
    form.wait("return document.getElementById('behind').hidden && !document.getElementById('next').hidden")
    assert form.text("#visit-title").endswith("dryer")
    form.tap("#finish")
    form.wait("return document.querySelectorAll('#notes-list a').length === 2")
    form.tap("#notes-list li:last-child a")
    form.wait("return document.title.startsWith('Supply assessment')")
    assert JOB in form.text("h1")
    assert "eutral bad: " in form.text("#first")
    assert form.run("return document.querySelector('main').textContent").count("247 V") >= 1


def test_a_service_that_is_down_is_waited_for(form: Browser, service: LiveService) -> None:
    begin(form)
    form.wait(SENT)
    service.kill()
    try:
        read(form, "dmm", "L1-L2", "243", "idle")
        form.wait(NOT_SENT)
        assert not form.run("return document.getElementById('behind').hidden")
    finally:
        service.start()
        service.wait()
    form.wait(SENT, 90)
    assert form.run("return document.getElementById('behind').hidden")


def test_what_was_mistyped_is_marked_and_can_be_mended(form: Browser, back_end: BackEnd) -> None:
    begin(form)
    form.wait(SENT)
    form.tap("#reading button.main")
    assert form.text("#value-wrong") == "Enter what the meter shows."
    assert form.run("return document.activeElement.id") == "value"
    assert form.run("return document.activeElement.getAttribute('aria-invalid')") == "true"
    read(form, "dmm", "L1-N", "121 A")
    form.wait("return document.querySelector('#taken .wrong')")
    assert form.text("#headline") == "Please mend what is marked."
    assert "is a current" in form.text("#taken .wrong")
    assert form.run("return document.getElementById('next').hidden")
    picture(form, "8-marked")
    assert barriers(form) == []
    # The same where it is found only when the visit is finished, out of coverage.
    form.tap("#taken button:last-of-type")
    form.wait("return !document.getElementById('next').hidden")
    back_end.stop()
    try:
        read(form, "dmm", "L1-N", "lots")
        form.tap("#finish")
    finally:
        back_end.start()
    form.wait("return document.getElementById('notes-list').textContent.includes('refused')", 60)
    form.tap("#notes-list button")
    assert form.text("#taken .wrong")
    form.tap("#taken button:last-of-type")
    form.wait("return !document.getElementById('next').hidden")


def test_a_reading_can_be_changed_a_visit_reopened_and_forgetting_asks(form: Browser) -> None:
    begin(form)
    form.wait("return !document.getElementById('next').hidden")
    # The next reading stands above the dangers, with its steps and what it would show.
    assert form.run(
        "const top = (id) => document.getElementById(id).getBoundingClientRect().top;"
        "return top('next') < top('dangers')"
    )
    assert form.run("return document.querySelectorAll('#next-steps li').length") > 0
    assert ":" in form.text("#next-expect")
    read(form, "dmm", "L1-L2", "24,5")
    form.wait(SENT)
    form.tap("#taken button")
    assert form.text("#add") == "Change reading 1"
    assert form.run("return document.getElementById('value').value") == "24,5"
    form.run("document.getElementById('value').value = ''")
    form.type("#value", "241,5")
    form.tap("#add")
    form.wait(SENT)
    form.wait("return document.getElementById('behind').hidden")
    assert form.run("return document.querySelectorAll('#taken li').length") == 1
    assert form.text("#taken span").startswith("L1 to L2: 241,5")
    form.tap("#seen-choices label")
    form.wait(SENT)
    form.wait("return document.getElementById('behind').hidden")
    picture(form, "9-changed")
    assert barriers(form) == []
    form.tap("#finish")
    form.wait("return document.querySelector('#notes-list a')")
    form.run("[...document.querySelectorAll('#notes-list button')].find((b) => b.textContent === 'Reopen').click()")
    form.wait(SENT)
    assert form.run("return document.querySelectorAll('#taken li').length") == 1
    assert form.run("return document.querySelectorAll('#seen-choices :checked').length") == 1
    form.tap("#finish")
    form.wait("return document.querySelector('#notes-list a')")
    form.tap("#notes-list button:last-of-type")
    assert form.run("return document.querySelectorAll('#notes-list a').length") == 1
    form.run(
        "[...document.querySelectorAll('#notes-list button')].find((b) => b.textContent === 'Forget for good').click()"
    )
    form.wait("return document.querySelectorAll('#notes-list a').length === 0")


def test_what_is_typed_stays_text(form: Browser) -> None:
    begin(form, "</h2><img src=x onerror=\"document.title='taken over'\"><script>document.title='taken over'</script>")
    form.wait(SENT)
    read(form, "dmm", "L1-L2", "<b onclick=alert(1)>24")
    form.wait("return document.querySelector('#taken .wrong')")
    assert form.run("return document.querySelectorAll('main img, main script, main b').length") == 0
    assert form.text("#visit-title").startswith("</h2><img")
    form.tap("#taken button:last-of-type")
    form.wait("return !document.getElementById('next').hidden")
    form.tap("#finish")
    form.wait("return document.querySelector('#notes-list a')")
    form.tap("#notes-list a")
    form.wait("return document.title.startsWith('Supply assessment')")
    assert form.run("return document.querySelectorAll('img, script').length") == 0
    assert "onerror" in form.text("h1")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [320, 360, 1100])
def test_no_barrier_and_no_sideways_scrolling(form: Browser, width: int, scheme: str) -> None:
    phone(form, width, 740, scheme)

    def check(where: str) -> None:
        assert barriers(form) == [], where
        assert overflow(form) <= 0, where
        # Targets for a thumb: 44 CSS pixels, the enhanced figure of WCAG 2.2, 2.5.5 (2.5.8 asks for 24).
        small = form.run(
            "return [...document.querySelectorAll('button, .open, .choices label, select, input:not([type=radio], "
            "[type=checkbox]), summary')].filter((e) => e.checkVisibility()).map((e) => [e.textContent || e.id, "
            "e.getBoundingClientRect()]).filter(([, box]) => box.height < 44 || box.width < 44).map(([name]) => name)"
        )
        assert small == [], where

    form.tap("summary")
    check("begin")
    for meter in ("clamp", "pen"):
        choose(form, "meters", meter)
    begin(form)
    form.wait("return !document.getElementById('next').hidden")
    read(form, "dmm", "L1-L2", "247", "idle")
    read(form, "dmm", "L1-N", "3.7", "idle")
    form.wait(SENT)
    form.wait("return document.getElementById('behind').hidden")
    check("answer")
    choose(form, "meter", "pen")
    check("detector")
    choose(form, "signal", "signals")
    form.tap("#reading button.main")
    form.wait("return document.getElementById('taken').textContent.includes('Proximity detector'.toLowerCase())")
    form.wait(SENT)
    picture(form, f"9-{width}-{scheme}")
    form.tap("#finish")
    form.wait("return document.querySelector('#notes-list a')")
    check("notes")


def test_swapping_tabs_shows_the_same_visit(form: Browser) -> None:
    begin(form)
    form.wait(SENT)
    # As another tab of the same form would write it.
    form.run(
        "const kept = JSON.parse(localStorage.getItem('field-form')); kept.visit.form.reference = 'INVENTED other';"
        "localStorage.setItem('field-form', JSON.stringify(kept));"
        "dispatchEvent(new StorageEvent('storage', {key: 'field-form'}))"
    )
    assert form.text("#visit-title") == "INVENTED other"
    assert form.text("#headline").startswith("Nothing read yet")
