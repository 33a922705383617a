"""What an answer shows of itself: a line in a log, a page in a notebook, a table with the numbers it was made of."""

from __future__ import annotations

import math
from dataclasses import replace
from html.parser import HTMLParser

import matplotlib
import numpy as np
import pytest
from matplotlib.figure import Figure

from vanpower import (
    Days,
    PanelReadings,
    Parked,
    Snapshot,
    analyse_trial,
    check,
    check_used_panel,
    compare,
    compare_headings,
    compare_with_model,
    example,
    fixture_costs,
    how_sure,
    panel_curve,
    plan_trial,
    rank_wirings,
    read_controllers,
    read_log,
    save_chart,
    shortlist,
    simulate,
    sweep,
)
from vanpower.checks.glance import at_a_glance
from vanpower.figures.kinds import KINDS, live_chart
from vanpower.files.resources import data_folder
from vanpower.results.result import Result, Shown
from vanpower.results.table import Column, Table
from vanpower.results.verdict import LONGEST
from vanpower.sharing.page import PAGE
from vanpower.sharing.registry import CHARTS
from vanpower.studies.roof import ShadeMap
from vanpower.widgets.explorer import _split

matplotlib.use("Agg")
VAN, FOUR, ROOF = example("bookmobile"), example("puppet-stage"), example("goat-cheese-van")
NOON = Snapshot(light=800, temp_cell=25)
DULL = Days(day="dull")
NINE = Parked(latitude_deg=47, day="06-21", hour=9)
STRANGER = "<script>alert('1')</script> & | =1+1 [a](b) `c`"
# a name that would be run by a page, told apart by a board, or break a table
PHONE = 56
# letters that a telephone turned sideways shows; as in forum texts


@pytest.fixture(scope="module")
def shown() -> dict[str, Shown]:
    """One of every answer that a teacher meets."""
    run = simulate(VAN.wirings(), DULL)
    trial = analyse_trial(read_log(data_folder() / "logs" / "apple-barn.csv"))
    answers = (
        compare(VAN.wirings(), NOON),
        run,
        run.budget("2s"),
        run.ladder(),
        rank_wirings(FOUR, NOON),
        shortlist(VAN, read_controllers(), DULL),
        fixture_costs({"3s": ROOF}, NINE),
        compare_headings({"3s": ROOF}, NINE, (0, 90)),
        how_sure(VAN.wirings(), NOON, samples=8),
        sweep(VAN.wirings(), {"noon": NOON}),
        trial,
        compare_with_model(trial, VAN.wired("2p"), VAN.wired("2s")),
        plan_trial(trial.log, gain=0.03),
        check_used_panel(VAN.panels[0], PanelReadings(light=900, temp_cell=40, i_sc=5.65, v_oc=21.2)),
        check(VAN),
    )
    return {type(one).__name__: one for one in answers}


NAMES = (
    "Comparison", "Run", "Budget", "Ladder", "Ranking", "Shortlist", "FixtureCosts", "RoofAnswer", "LeadUncertainty",
    "Sweep", "Trial", "ModelComparison", "Plan", "PanelTest", "Checks",
)  # fmt: skip


class Page(HTMLParser):
    """What stands in a page, and whether every mark is closed in its turn."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.marks: list[str] = []
        self.rows: list[list[str]] = []
        self.words = ""
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.marks.append(tag)
        self.open.append(tag)
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words += data
        if self.open and self.open[-1] in ("td", "th"):
            self.rows[-1][-1] += data


def page(text: str) -> Page:
    """A page that is whole."""
    read = Page(text)
    assert read.open == []
    return read


def test_every_answer_is_looked_at(shown):
    assert tuple(shown) == NAMES


@pytest.mark.parametrize("name", NAMES)
def test_answer_is_one_line_in_a_log_with_its_name(shown, name):
    # a bare Comparison printed 19,339 letters
    line = repr(shown[name])
    assert line.startswith(f"{name}: ")
    assert len(line) <= LONGEST == 120
    assert line.isprintable()


@pytest.mark.parametrize("name", NAMES)
def test_answer_shows_its_verdict_and_table_in_a_notebook(shown, name):
    answer = shown[name]
    read = page(answer._repr_html_())
    head, *body = read.rows
    assert len(body) == len(answer.table().rows) > 0
    assert {len(row) for row in body} == {len(head)}
    assert "script" not in read.marks
    if isinstance(answer, Result):
        assert answer.verdict.sentence in read.words


@pytest.mark.parametrize("name", NAMES)
def test_table_gives_pandas_the_numbers_it_was_made_of(shown, name):
    table = shown[name].table()
    frame = table.to_pandas().reset_index()
    assert len(frame) == len(table.rows)
    for number, row in enumerate(table.rows):
        for column, value in zip(table.columns, row, strict=True):
            for label, part in column.each(value):
                got = frame.loc[number, label]
                assert got == part or (part is None or part != part) == (got is None or got != got)


@pytest.mark.parametrize("name", NAMES)
def test_table_for_a_board_has_as_many_cells_in_every_row(shown, name):
    table = shown[name].table()
    lines = [line for line in table.markdown().splitlines() if line.startswith("|")]
    assert len(lines) == len(table.rows) + 2
    assert len({line.replace(r"\|", "").count("|") for line in lines}) == 1


def test_names_of_strangers_are_letters_in_a_page_and_on_a_board():
    column = Column(name=STRANGER, left=True)
    table = Table((column, Column(name="W")), [(STRANGER, 12.0)], note=STRANGER, above=STRANGER)
    read = page(table._repr_html_())
    assert set(read.marks) == {"p", "div", "table", "thead", "tbody", "tr", "th", "td"}
    assert read.rows == [[STRANGER, "W"], [STRANGER, "12.0"]]
    for line in table.markdown().splitlines():
        assert "<script" not in line.replace("\\<", "")
    (row,) = [line for line in table.markdown().splitlines() if line.endswith("| 12.0 |")]
    assert row.replace(r"\|", "").count("|") == 3


def test_comparison_of_a_stranger_says_their_name_and_runs_nothing():
    found = compare({STRANGER: VAN, "2s": VAN}, NOON)
    read = page(found._repr_html_())
    assert STRANGER in [row[0] for row in read.rows]
    assert "script" not in read.marks
    assert len(repr(found)) <= LONGEST


def test_words_of_the_last_column_go_on_under_it_on_a_telephone():
    text = compare(example("puppet-stage").wirings(), NOON).text(PHONE)
    assert max(map(len, text.splitlines())) <= PHONE


def test_printed_numbers_keep_their_columns_and_a_missing_one_is_a_dash():
    columns = (Column(name="wiring", left=True), Column(name="", unit="W", width=7), Column(name="V", digits=2))
    table = Table(columns, [("2s2p", 387.46, 14.4), ("a", math.nan, None)])
    assert str(table).splitlines() == ["wiring        W      V", "2s2p        387  14.40", "a             -      -"]


def test_mapping_is_one_cell_in_print_and_columns_elsewhere():
    words = Column(name="lost", parts=("cable", "own draw"), left=True, say=lambda lost: ", ".join(lost))
    table = Table((Column(name="wiring", left=True), words), [("2s", {"cable": 6.44, "own draw": 1.0})])
    assert str(table).splitlines()[1] == "2s      cable, own draw"
    assert table.to_pandas().loc["2s", "lost: cable"] == 6.44
    assert page(table._repr_html_()).rows == [["wiring", "lost: cable", "lost: own draw"], ["2s", "6.4", "1.0"]]


def test_long_table_shows_its_first_rows_in_a_page_and_counts_the_others():
    table = Table((Column(name="n"),), [(float(number),) for number in range(1000)])
    read = page(table._repr_html_())
    assert len(read.rows) == 61
    assert "940 more rows" in read.words
    assert len(table.to_pandas()) == 1000


def test_run_has_a_table_of_each_kind_and_refuses_others(shown):
    run = shown["Run"]
    sizes = {what: len(run.table(what).rows) for what in ("wirings", "months", "days", "moments")}
    assert sizes == {"wirings": 2, "months": 1, "days": 1, "moments": 24}
    with pytest.raises(ValueError, match="no table 'weeks'; there are wirings, months, days, moments, ladder"):
        run.table("weeks")
    with pytest.raises(ValueError, match="no wiring '3s'"):
        run.table("days", "3s")


def test_row_too_small_to_show_is_left_out_of_print_and_page_and_kept_in_pandas():
    columns = (Column(name="step", left=True), Column(name="Wh", said=("900", None)))
    table = Table(columns, [("label", 900.2), ("dull light", 0.1)])
    assert str(table).splitlines()[1:] == ["label  900"]
    assert len(page(table._repr_html_()).rows) == 2
    assert table.to_pandas()["Wh"].tolist() == [900.2, 0.1]


def test_two_columns_of_one_name_are_both_in_pandas():
    table = Table((Column(name="a"), Column(name="W"), Column(name="W")), [(1.0, 2.0, 3.0)])
    assert table.to_pandas().values.tolist() == [[2.0, 3.0]]


def test_sweep_is_laid_out_by_two_of_its_names_and_shows_no_watts_of_what_is_not_allowed():
    found = sweep(FOUR.wirings(), {"noon": NOON})
    told = found.table("rig", "request").to_pandas()["noon"]
    whole = found.table().to_pandas().set_index("rig")
    assert whole["allowed"].to_dict() == {"2s2p": "yes", "4s": "no", "4p": "no"}
    assert told["2s2p"] == whole["Wh"]["2s2p"]
    assert told[["4s", "4p"]].isna().all()
    with pytest.raises(ValueError, match="two of rig, controller, request"):
        found.table("rig", "rig")


def test_checks_are_found_by_name_and_still_come_in_their_order():
    found = check(FOUR)
    assert [*found] == [*found.verdicts] == [found[k] for k in range(len(found))]
    assert found["cold ceiling"] is found[0]
    assert found["Cold ceiling"].question.startswith("Cold ceiling")
    assert found[:2] == found.verdicts[:2]
    with pytest.raises(ValueError, match="'cold celing' is checked on this rig; did you mean 'cold ceiling'"):
        found["cold celing"]


def test_some_checks_are_those_asked_for_in_that_order():
    found = check(FOUR, only=("start", "cold ceiling"))
    assert [verdict.question.partition(":")[0] for verdict in found] == ["Start", "Cold ceiling"]
    assert found.verdict.sentence == "All 2 are a yes."


def test_of_two_circuits_the_name_gives_the_worse_answer():
    # a lower ceiling on the second circuit leaves fewer volts in hand
    rig = example("kiln-bus")
    first, second = rig.circuits
    low = replace(second, controller=replace(second.controller, v_pv_max=second.controller.v_pv_max / 4))
    found = check(replace(rig, circuits=(first, low)))
    assert [verdict.answer for verdict in found.about("cold ceiling")] == ["yes", "no"]
    assert found["cold ceiling"].answer == "no"


def test_checks_are_no_surer_than_their_worst_and_carry_its_caution():
    found = check(FOUR.wired("4s"))
    verdict = found.verdict
    assert verdict.answer == "no"
    assert "Cold ceiling" in verdict.sentence
    assert found["cold ceiling"].caution in verdict.caution


def test_table_of_checks_is_what_is_read_at_a_glance():
    assert str(check(FOUR).table()) == at_a_glance(check(FOUR))


def test_checks_under_a_slider_say_every_verdict():
    result, verdicts = _split(check(FOUR, only=("cold ceiling", "start")))
    assert len(verdicts) == len(result) == 2


OF = [(of.__name__, kind) for kind, known in KINDS.items() if known.plot for of in known.shows]
RESULTS, SKY = {"Comparison", "Run", "Trial", "Checks"}, ("day", "roof", "roof day")
# answers that stand in `shown`, and charts that need another light than theirs


@pytest.mark.parametrize(
    ("name", "kind"), [pair for pair in OF if pair[0] in RESULTS and pair[1] not in ("day", "roof", "roof day")]
)
def test_answer_draws_its_charts_where_it_is_told(shown, name, kind):
    ax = Figure().subplots()
    assert shown[name].plot(kind, ax=ax) is ax
    assert ax.get_title(loc="left") or ax.get_title() or ax.texts


def test_comparison_of_a_day_and_of_a_roof_have_charts_of_their_own():
    day, roof = compare({"2p": VAN}, DULL), compare({"3s": ROOF}, NINE)
    assert day.plot("day", ax=Figure().subplots()).lines
    assert roof.plot("roof", ax=Figure().subplots()).get_title(loc="left")


def test_every_chart_that_a_recipe_makes_is_a_kind_with_that_name():
    assert set(CHARTS) - set(KINDS) == {PAGE}
    # which is no chart, but a page to send
    assert set(KINDS) - set(CHARTS) == {
        "roof pair",
        "roof day",
        "as read",
        "shade by touch",
        "roof by touch",
        "panel",
        "shade map",
        "watch",
    }


def test_panel_curve_and_shade_map_draw_themselves_by_the_same_list():
    curve = panel_curve(VAN.panels[0], light=800)
    watts = {"2s": np.array([[100.0, 40.0], [50.0, 45.0]]), "2p": np.array([[99.0, 60.0], [50.0, 30.0]])}
    found = ShadeMap(np.array([100.0, 800.0]), np.array([0.0, 0.5]), watts, "front")
    assert curve.plot(ax=Figure().subplots()).get_xlabel() == "Panel voltage (V)"
    assert found.plot("shade map", ax=Figure().subplots()).get_ylabel() == "Light (W/m²)"
    with pytest.raises(ValueError, match="a IVCurve has no chart 'power'; there are panel"):
        curve.plot("power")


def test_a_chart_is_told_only_what_it_knows_by_every_door(shown, tmp_path):
    found = shown["Comparison"]
    assert found.plot("power", ax=Figure().subplots(), p_top=900).get_ylim()[1] > 900
    for asked in (lambda: found.plot("comparison", p_top=900), lambda: live_chart("comparison", p_top=900)):
        with pytest.raises(ValueError, match="chart 'comparison' cannot be told 'p_top'; it can be told nothing"):
            asked()
    with pytest.raises(ValueError, match="chart comparison has no option 'p_top'"):
        save_chart(tmp_path / "a.png", "comparison", found, p_top=900)


def test_a_chart_of_something_else_is_refused_by_name(shown, tmp_path):
    for kind in ("power", "ceiling"):
        with pytest.raises(ValueError, match=f"chart '{kind}' shows .*, and this is a Run; a Run has run, charge"):
            save_chart(tmp_path / "a.png", kind, shown["Run"])
    with pytest.raises(ValueError, match="chart 'roof day' carries no recipe; those that do are answer"):
        save_chart(tmp_path / "a.png", "roof day", shown["Comparison"])


def test_the_chart_of_a_check_is_saved_as_that_of_its_rig(tmp_path):
    assert save_chart(tmp_path / "a.png", "ceiling", check(VAN)) == save_chart(tmp_path / "b.png", "ceiling", VAN)


def test_answer_without_that_chart_says_which_there_are(shown):
    with pytest.raises(ValueError, match="a Run has no chart 'power'; there are charge, months, ladder"):
        shown["Run"].plot("power")
    with pytest.raises(ValueError, match="a Plan has no chart; there are charts of Comparison"):
        shown["Plan"].plot()


@pytest.mark.parametrize("wiring", ["2s", "2p"])
def test_wiring_of_a_run_is_told_to_its_chart(shown, wiring):
    assert wiring in shown["Run"].plot(ax=Figure().subplots(), wiring=wiring).get_title(loc="left")
