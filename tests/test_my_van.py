"""The form "my van" in a real browser: typed, saved, slips, undo, another tab, narrow pages, and JupyterLab."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from browsing import FOLDER, TOKEN, opened, screenshots, served
from foreign_rigs import FOREIGN

pytest.importorskip("nbconvert", reason="pages need the extra 'notebooks'")

from vanpower import example, read_rig, rig_to_toml
from vanpower.cli.notebooks import server_command
from vanpower.form.answers import answer_of

PAGE = "my-van.ipynb"
LONGEST = (
    "02-is-this-rating-enough.ipynb", "03-shade-by-hand.ipynb", "07-before-you-order.ipynb",
    "11-after-the-last-screw.ipynb",
)  # fmt: skip
# lessons with the longest way to their depth on a phone
VAN = example("bookmobile")
LABEL = {"v_oc": "24,3", "i_sc": "10.4", "v_mp": "20.4", "i_mp": "9.8", "i_max_fuse": "20"}
# five figures of a label, one with a comma; in this order none of them contradicts those typed before
FORM = ".vp-van fieldset"
FINDING = "text => document.querySelector('.vp-van .find').textContent === text"
PAGE_LAYOUT = "document.querySelector('.vp-van .chart svg')?.viewBox.baseVal.width > 500"
# the chart is drawn for a page, wider than a phone's 374 points
LETTERS = """() => [...document.querySelectorAll('.vp-van input:not([type=radio]), .vp-van select')]
  .filter(e => e.getClientRects().length && parseFloat(getComputedStyle(e).fontSize) < 16).length"""
STICKS_OUT = """() => [...document.querySelectorAll('.vp-van *')].filter(e => e.getClientRects().length
  && e.getBoundingClientRect().right > innerWidth + 1).map(e => `${e.tagName} ${e.className}`)"""
STANDS = """() => new Promise(done => {
  const high = () => document.body.scrollHeight;
  const look = (before, same) => same > 5 ? done(true)
    : setTimeout(() => look(high(), high() === before ? same + 1 : 0), 200);
  look(0, 0);
})"""
# the page has been as high for a second
UNNAMED = (
    """() => [...document.querySelectorAll('.vp-van input, .vp-van select')].filter(e => !e.labels.length).length"""
)
DANGLING = """() => [...document.querySelectorAll('.vp-van [aria-describedby]')]
  .flatMap(e => e.getAttribute('aria-describedby').split(' ')).filter(id => !document.getElementById(id))"""


BESIDE = """() => [...document.querySelectorAll('.vp-van .f:not(.wide, .text) > .note')]
  .filter(note => note.textContent === 'not stated' && note.getClientRects().length)
  .map(note => note.getBoundingClientRect().bottom
    <= note.parentElement.querySelector('.in').getBoundingClientRect().bottom + 1)"""
DEPTH = """() => [...document.querySelectorAll('.vp-words h2')].find(one => one.textContent.startsWith('In depth'))
  ?.getBoundingClientRect().top + scrollY"""
# of every figure that nobody stated whether the words that say so end where its box does


@pytest.fixture(scope="module")
def pages(browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    """Address of the server, and the file of the van."""
    if not os.environ.get("VANPOWER_REQUIRE_TOOLS"):
        pytest.importorskip("voila", reason="pages need the extra 'notebooks'")
    folder = tmp_path_factory.mktemp("my-van")
    copy, van = folder / "notebooks", folder / "my-van.toml"
    copy.mkdir()
    for page in (PAGE, *LONGEST):
        shutil.copy(FOLDER / page, copy)
    command = [*server_command(copy), "--no-browser", "--port=PORT", "--ServerApp.port_retries=0",
               f"--IdentityProvider.token={TOKEN}", "--LabApp.expose_app_in_browser=True"]  # fmt: skip
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("VANPOWER_VAN", str(van))
        with served(command, f"/api?token={TOKEN}", folder) as address:
            yield address, van


@pytest.fixture
def van(pages: tuple[str, Path]) -> Path:
    """The file of the van, which is the bookmobile's, with no step before it."""
    _, path = pages
    path.with_name(f".{path.name}.steps").unlink(missing_ok=True)
    path.write_text(rig_to_toml(VAN), encoding="utf-8")
    return path


@contextmanager
def form(pages: tuple[str, Path], browser: Any, **screen: Any) -> Iterator[Any]:
    """The form in a tab of its own."""
    with opened(browser, **screen) as tab:
        tab.goto(f"{pages[0]}/voila/render/{PAGE}?token={TOKEN}")
        tab.wait_for_selector(FORM)
        yield tab
        assert tab.problems == []
        tab.goto("about:blank")


def box(tab: Any, key: str) -> Any:
    """The control of a box."""
    return tab.locator(f'.vp-van [data-key="{key}"] :is(input, select)').first


def wait_saved(path: Path, tab: Any, wanted: Any) -> None:
    """Wait until the file holds a rig."""
    for _ in range(100):
        if path.exists() and read_rig(path) == wanted:
            return
        tab.wait_for_timeout(50)
    assert read_rig(path) == wanted


def test_five_figures_of_a_label_change_the_finding_and_the_file_holds_exactly_them(
    pages: tuple[str, Path], van: Path, browser: Any, tmp_path: Path
) -> None:
    figures = {name: float(text.replace(",", ".")) for name, text in LABEL.items()}
    wanted = VAN.with_panels(**figures)
    with form(pages, browser) as tab:
        before = tab.locator(".vp-van .find").text_content()
        for name, text in LABEL.items():
            box(tab, f"panel.0.{name}").press("Control+a")
            box(tab, f"panel.0.{name}").press_sequentially(text, delay=30)
        wait_saved(van, tab, wanted)
        found = answer_of(wanted)
        tab.wait_for_function(FINDING, arg=found.finding)
        assert found.finding != before
        assert found.doubt == tab.locator(".vp-van .res > .cap").text_content()
        assert tab.locator(".vp-van .msg:not(:empty)").count() == 0
        tab.screenshot(path=screenshots(tmp_path) / "my-van-1280.png", full_page=True)


AT_REST_MS = 1500
# after which a chart that was laid out for a page is drawn as it stays


def test_a_wrong_figure_is_told_beside_its_box_and_the_picture_says_which_label_it_is_for(
    pages: tuple[str, Path], van: Path, browser: Any, tmp_path: Path
) -> None:
    with form(pages, browser) as tab:
        tab.wait_for_function(PAGE_LAYOUT)
        tab.wait_for_timeout(AT_REST_MS)
        chart = tab.locator(".vp-van .chart").inner_html()
        vmp = box(tab, "panel.0.v_mp")
        vmp.fill("24")
        slip = tab.locator('.vp-van [data-key="panel.0.v_mp"] .msg')
        slip.filter(has_text="Vmp must be below Voc, and 24 V is not. Are the two swapped?").wait_for()
        assert vmp.get_attribute("aria-invalid") == "true"
        assert slip.get_attribute("id") in vmp.get_attribute("aria-describedby").split()
        tab.locator(".vp-van .stale").filter(has_text="One figure").wait_for()
        stale = " ".join(tab.locator(".vp-van .stale").text_content().split())
        assert stale == "One figure to settle (Vmp). What you see is for the last whole rig: Vmp 18.5 V."
        assert tab.locator(".vp-van .chart").inner_html() == chart
        assert read_rig(van) == VAN
        tab.screenshot(path=screenshots(tmp_path) / "my-van-slip-1280.png")
        slip.get_by_role("button", name="Swap them").click()
        wait_saved(van, tab, VAN.with_panels(v_oc=24.0, v_mp=22.3))
        tab.wait_for_function("document.querySelector('[data-key=\"panel.0.v_oc\"] input').value === '24'")
        tab.get_by_role("button", name="Undo").click()
        wait_saved(van, tab, VAN)
        tab.wait_for_function("document.querySelector('[data-key=\"panel.0.v_mp\"] input').value === '18.5'")
        assert vmp.get_attribute("aria-invalid") is None


def test_another_tab_notices_and_offers_the_file(pages: tuple[str, Path], van: Path, browser: Any) -> None:
    with form(pages, browser) as one, form(pages, browser) as other:
        box(one, "panel.0.v_oc").fill("21.9")
        wait_saved(van, one, VAN.with_panels(v_oc=21.9))
        notice = other.locator(".vp-van .notice", has_text="my-van.toml was changed in another page or by hand.")
        notice.wait_for()
        assert box(other, "panel.0.v_oc").input_value() == "22.3"
        notice.get_by_role("button", name="Use it").click()
        other.wait_for_function("document.querySelector('[data-key=\"panel.0.v_oc\"] input').value === '21.9'")
        assert one.locator(".vp-van .notice:not(:empty)").count() == 0


SAID = (
    "[...document.querySelectorAll('.vp-live [role=status]')].map(one => one.innerText).join().replaceAll('\\xa0', ' ')"
)
CHANGED = "The file of your van has changed."


def test_a_lesson_in_another_tab_says_that_the_van_has_changed_and_a_press_reckons_it_anew(
    pages: tuple[str, Path], van: Path, browser: Any
) -> None:
    with form(pages, browser) as tab, opened(browser) as lesson:
        lesson.goto(f"{pages[0]}/voila/render/{LONGEST[0]}?token={TOKEN}")
        lesson.get_by_role("button", name="My van", exact=True).first.click()
        lesson.wait_for_function(f"() => {SAID}.includes('abel 22.3 V')")
        chooser = lesson.locator(".vanpower-chooser")
        box(tab, "panel.0.v_oc").fill("21.9")
        chooser.filter(has_text=CHANGED).wait_for()
        # nothing moves under a reader's hand
        assert "abel 22.3 V" in lesson.evaluate(SAID)
        lesson.get_by_role("button", name="Use it").click()
        lesson.wait_for_function(f"() => {SAID}.includes('abel 21.9 V')")
        assert CHANGED not in chooser.inner_text()
        assert lesson.problems == []
        lesson.goto("about:blank")


def test_a_wiring_is_chosen_from_the_list_and_by_the_keyboard(pages: tuple[str, Path], van: Path, browser: Any) -> None:
    with form(pages, browser) as tab:
        tab.locator('.vp-van [data-wire="2s"]').check()
        wait_saved(van, tab, VAN.wired("2s"))
        tab.wait_for_function(FINDING, arg=answer_of(VAN.wired("2s")).finding)
        assert box(tab, "circuit.0.wiring").input_value() == "2s"
        assert tab.evaluate("document.activeElement.dataset.wire") == "2s"


def test_a_narrow_page_fits_and_tab_goes_from_box_to_box(
    pages: tuple[str, Path], van: Path, browser: Any, tmp_path: Path
) -> None:
    with form(pages, browser, viewport={"width": 420, "height": 870}) as tab:
        tab.wait_for_selector(".vp-van .chart svg")
        # what nobody stated takes no line of its own, else the form is half a screen longer
        beside = tab.evaluate(BESIDE)
        assert len(beside) >= 5
        assert all(beside)
        for summary in tab.locator(".vp-van form summary").all():
            summary.click()
        assert tab.evaluate(STICKS_OUT) == []
        assert tab.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert tab.evaluate(LETTERS) == 0
        assert tab.evaluate(UNNAMED) == 0
        assert tab.evaluate(DANGLING) == []
        box(tab, "panel.0.count").focus()
        passed = []
        for _ in range(5):
            tab.keyboard.press("Tab")
            passed.append(tab.evaluate("document.activeElement.closest('[data-key]').dataset.key"))
        assert passed == [f"panel.0.{name}" for name in ("v_oc", "i_sc", "v_mp", "i_mp", "beta_voc_pct_per_k")]
        assert box(tab, "panel.0.v_oc").get_attribute("inputmode") == "decimal"
        tab.screenshot(path=screenshots(tmp_path) / "my-van-420.png", full_page=True)


def test_a_name_that_is_a_script_is_shown_and_not_run(pages: tuple[str, Path], van: Path, browser: Any) -> None:
    bad = "<img src=x onerror=window.hurt=1><script>window.hurt=1</script>"
    with form(pages, browser) as tab:
        box(tab, "name").fill(bad)
        wait_saved(van, tab, VAN.changed(name=bad))
        tab.reload()
        tab.wait_for_selector(".vp-van .checks")
        assert box(tab, "name").input_value() == bad
        assert tab.evaluate("window.hurt") is None


def test_a_newcomer_fills_an_empty_form(pages: tuple[str, Path], van: Path, browser: Any) -> None:
    van.unlink()
    with form(pages, browser) as tab:
        assert tab.locator(".vp-van .chart svg").count() == 0
        typed = {
            "panel.0.count": "3", **{f"panel.0.{name}": text for name, text in LABEL.items()},
            "circuit.0.controller.v_pv_max": "100", "circuit.0.controller.i_charge_max": "50",
            "circuit.0.cable.length_m": "5", "climate.temp_coldest": "-15",
        }  # fmt: skip
        for key, text in typed.items():
            box(tab, key).fill(text)
        tab.wait_for_selector(".vp-van .chart svg")
        saved = read_rig(van)
        assert (len(saved.panels), saved.panels[2].v_oc, saved.climate.temp_coldest) == (3, 24.3, -15.0)
        tab.wait_for_function(FINDING, arg=answer_of(saved).finding)


def test_the_same_form_works_in_jupyterlab(pages: tuple[str, Path], van: Path, browser: Any) -> None:
    with opened(browser) as tab:
        tab.goto(f"{pages[0]}/doc/tree/{PAGE}?token={TOKEN}")
        tab.wait_for_function("window.jupyterapp?.shell?.currentWidget?.sessionContext?.isReady")
        tab.evaluate("jupyterapp.commands.execute('notebook:run-all-cells')")
        tab.wait_for_selector(FORM)
        box(tab, "panel.0.v_oc").fill("21.9")
        wait_saved(van, tab, VAN.with_panels(v_oc=21.9))


def test_with_a_van_of_two_controllers_depth_begins_within_five_screens_of_a_phone(
    pages: tuple[str, Path], van: Path, browser: Any
) -> None:
    van.write_text(FOREIGN["two circuits"], encoding="utf-8")
    phone = {"width": 420, "height": 870}
    deep = {}
    with opened(browser, viewport=phone, is_mobile=True, has_touch=True) as tab:
        for name in LONGEST:
            tab.goto(f"{pages[0]}/voila/render/{name}?token={TOKEN}")
            tab.get_by_role("button", name="My van", exact=True).first.click()
            tab.wait_for_selector(".vanpower-chooser .mod-active:text-is('My van')")
            tab.wait_for_function("() => document.body.textContent.includes('In depth')")
            # as long as words stand that were said last
            tab.wait_for_function(STANDS)
            deep[name] = tab.evaluate(DEPTH) / phone["height"]
        tab.goto("about:blank")
    assert {name: screens for name, screens in deep.items() if not 2 < screens <= 5} == {}
