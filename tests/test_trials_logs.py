"""Logs as people have them: delimiters, decimal signs, forms of time, names of columns, and what is said of a slip."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from vanpower.files.columns import TRIAL
from vanpower.trials.analysis import analyse_trial
from vanpower.trials.light_sources import clear_light, spare_light
from vanpower.trials.logs import read_log
from vanpower.weather.sun import clear_sky

HEAD = ("time", "wiring", "watts", "light")
CELLS = [("10:00", "2p", "100.5", "500"), ("10:05", "2p", "104", "520"), ("10:20", "2s", "111", "540"),
         ("10:25", "2s", "114", "560"), ("10:40", "2p", "116", "580"), ("10:45", "2p", "120", "600")]  # fmt: skip


def text(delimiter: str = ";", head=HEAD, cells=CELLS, *, comma: bool = False) -> str:
    """The six rows as a log might write them."""
    lines = [delimiter.join(row) for row in [head, *cells]]
    return "\n".join([lines[0], *(line.replace(".", ",") if comma else line for line in lines[1:])])


def with_times(*times: str) -> list[tuple[str, ...]]:
    """The rows with other times."""
    return [(time, *row[1:]) for time, row in zip(times, CELLS, strict=True)]


@pytest.mark.parametrize("delimiter", [";", ",", "\t", "|", " "])
def test_any_usual_delimiter_gives_the_same_log(delimiter, tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(text(delimiter), encoding="utf-8")
    log = read_log(path)
    assert log.minutes.tolist() == [0, 5, 20, 25, 40, 45]
    assert log.power.tolist() == [100.5, 104, 111, 114, 116, 120]
    assert (log.before, log.after, log.order) == ("2p", "2s", "A-B-A")


@pytest.mark.parametrize("delimiter", [";", "\t", "|", " "])
def test_decimal_commas_are_read(delimiter):
    assert read_log(text(delimiter, comma=True)).power[0] == 100.5


FORMS = {
    "iso": [f"2026-05-31 {row[0]}" for row in CELLS],
    "iso with T and offset": [f"2026-05-31T{row[0]}:00+02:00" for row in CELLS],
    "dots": [f"31.05.2026 {row[0]}" for row in CELLS],
    "dots, and a clock set forward": [
        *(f"29.03.2026 01:{minute}+01:00" for minute in ("50", "55")),
        *(f"29.03.2026 03:{minute} +02:00" for minute in ("10", "15", "30", "35")),
    ],
    "dots, and a clock set back": [
        *(f"25.10.2026 02:{minute}+02:00" for minute in ("50", "55")),
        *(f"25.10.2026 02:{minute}+01:00" for minute in ("10", "15", "30", "35")),
    ],
    "slashes that tell": [f"5/31/2026 {row[0]}" for row in CELLS],
    "halves of a day": [f"{row[0]} am" for row in CELLS],
    "seconds": [f"{row[0]}:00" for row in CELLS],
    "plain minutes": ["0", "5", "20", "25", "40", "45"],
}


@pytest.mark.parametrize("form", FORMS)
def test_times_in_usual_forms_count_the_same_minutes(form):
    log = read_log(text(cells=with_times(*FORMS[form])))
    assert log.minutes.tolist() == [0, 5, 20, 25, 40, 45]


COUNTS = {
    "time (s)": [0, 300, 1200, 1500, 2400, 2700],
    "elapsed_s": [0, 300, 1200, 1500, 2400, 2700],
    "time [h]": ["0.0", "0.08333333", "0.33333333", "0.41666667", "0.66666667", "0.75"],
    "time (days)": [f"{m / 1440:.7f}" for m in (0, 5, 20, 25, 40, 45)],
    "minutes": [0, 5, 20, 25, 40, 45],
}


@pytest.mark.parametrize("head", COUNTS)
def test_plain_numbers_count_what_the_name_of_their_column_says(head):
    log = read_log(text(head=(head, *HEAD[1:]), cells=with_times(*map(str, COUNTS[head]))))
    np.testing.assert_allclose(log.minutes, [0, 5, 20, 25, 40, 45], atol=1e-3)
    assert log.start is None


# 10:00 UTC on 31 May 2026: seconds since 1970 by POSIX.1 (4.16, Seconds Since the Epoch): 20604 days of 86400 s and ten
# hours; day 46173 of a spreadsheet, by plain count: 36526 is 1 January 2000, and 9647 days lie between
CLOCKS = {
    "seconds since 1970": [str(20604 * 86400 + 36000 + 60 * m) for m in (0, 5, 20, 25, 40, 45)],
    "milliseconds since 1970": [str(1000 * (20604 * 86400 + 36000 + 60 * m)) for m in (0, 5, 20, 25, 40, 45)],
    "days of a spreadsheet": [f"{46173 + (600 + m) / 1440:.7f}" for m in (0, 5, 20, 25, 40, 45)],
}


@pytest.mark.parametrize("form", CLOCKS)
def test_counts_that_are_clocks_are_read_as_dates(form):
    log = read_log(text(cells=with_times(*CLOCKS[form])))
    np.testing.assert_allclose(log.minutes, [0, 5, 20, 25, 40, 45], atol=1e-3)
    assert abs(log.start - datetime(2026, 5, 31, 10, 0)) < timedelta(seconds=1)


@pytest.mark.parametrize(
    ("head", "cell", "field", "value"),
    [
        ("power (kW)", "0.1", "power", 100.0),
        ("power_kw", "0.1", "power", 100.0),
        ("Power [mW]", "100000", "power", 100.0),
        ("temp (°F)", "77", "temp", 25.0),
        ("panel_temp_f", "77", "temp", 25.0),
        ("Temp K", "298.15", "temp", 25.0),
        ("light (kW/m²)", "0.5", "light", 500.0),
        ("Licht mW/cm2", "50", "light", 500.0),
        ("vbat (mV)", "13200", "v_battery", 13.2),
        ("ibat [mA]", "5500", "i_battery", 5.5),
        ("temp (back)", "25", "temp", 25.0),
    ],
)
def test_unit_in_the_name_of_a_column_is_reckoned_with(head, cell, field, value):
    # 77 °F = (77 - 32) / 1.8 = 25 °C; 0 °C = 273.15 K (BIPM, SI brochure, 9th edition, 2.3.1)
    watts = () if field == "power" else ("watts",)
    cells = [(*row[:2], *(["100"] if watts else []), cell) for row in CELLS]
    log = read_log(text(head=("time", "wiring", *watts, head), cells=cells))
    assert getattr(log, field)[0] == pytest.approx(value)


@pytest.mark.parametrize("offset", ["+02:00", "+0200", "+02", "Z", " +02:00"])
@pytest.mark.parametrize("form", ["2026-05-31T10:{}", "2026-05-31 10:{}:00.5", "20260531T10{}", "31.05.2026 10:{}"])
def test_offsets_on_some_rows_only_are_refused_in_every_form(form, offset):
    stamps = [form.format(f"{10 * k:02d}") for k in range(6)]
    assert read_log(text(cells=with_times(*(f"{one}{offset}" for one in stamps)))).minutes[-1] == 50
    with pytest.raises(ValueError, match="an offset from UTC stands on some rows and not on others"):
        read_log(text(cells=with_times(*(f"{one}{offset if k < 4 else ''}" for k, one in enumerate(stamps)))))


@pytest.mark.parametrize(
    ("head", "times", "says"),
    [
        ("time", [f"20260531100{k}" for k in range(6)], "write a date and time as 2026-05-31 10:05"),
        ("time", [f"0001-01-01T00:0{k}+02:00" for k in range(6)], "is not a time"),
        ("time", [f"9999-12-31T23:5{k}-02:00" for k in range(6)], "is not a time"),
        ("time", [f"31.12.9999 23:5{k}-02:00" for k in range(6)], "is not a time"),
        ("time", ["1" * 140_000, "2", "3", "4", "5", "6"], "line 2 has 140"),
        ("time", [str(60 * k) for k in range(21)], "Are they seconds"),
        ("time", [f"{0.42 + k / 720:.5f}" for k in range(6)], "parts of a day"),
        ("time (lux)", [str(5 * k) for k in range(6)], "lux is no unit of that"),
    ],
)
def test_times_that_cannot_be_are_refused_in_a_line(head, times, says):
    cells = [(time, *CELLS[min(k, 5)][1:]) for k, time in enumerate(times)]
    with pytest.raises(ValueError, match=says) as told:
        read_log(text(head=(head, *HEAD[1:]), cells=cells))
    assert "\n" not in str(told.value)
    assert len(str(told.value)) < 400


@pytest.mark.parametrize(
    ("head", "cell", "says"),
    [
        ("power (Wh)", "100", "Wh is no unit of that but of energy"),
        ("power_wh", "100", "but of energy"),
        ("power (V)", "100", "V is no unit of that; it is read in W"),
        ("power (MW)", "100", "megawatts"),
        ("power (kW)", "100 W", "has a unit of its own"),
        ("power (kW)", "100", "from -50 to 50000 W"),
    ],
)
def test_unit_of_something_else_is_refused(head, cell, says):
    with pytest.raises(ValueError, match=says):
        read_log(text(head=("time", "wiring", head), cells=[(*row[:2], cell) for row in CELLS]))


def test_slashes_that_do_not_tell_are_asked_for_and_then_read_as_said():
    rows = text(cells=with_times(*[f"05/06/2026 {row[0]}" for row in CELLS]))
    with pytest.raises(ValueError, match="may begin with the day or the month"):
        read_log(rows)
    starts = [read_log(rows, dates=order).start for order in ("day first", "month first")]
    assert [(start.month, start.day) for start in starts] == [(6, 5), (5, 6)]


def test_date_in_a_column_of_its_own_is_joined_to_the_time():
    log = read_log(text(head=("date", *HEAD), cells=[("2026-05-31", *row) for row in CELLS]))
    assert log.start.isoformat() == "2026-05-31T10:00:00"


@pytest.mark.parametrize("name", ["Power", "PV power [W]", "Leistung (W)", "pv_w", "W", "Solar W"])
def test_columns_are_recognised_by_usual_names(name):
    assert read_log(text(head=("time", "wiring", name, "light"))).power[0] == 100.5


def test_columns_can_be_named_once():
    log = read_log(
        text(head=("when", "x", "y", "z")), columns={"time": "when", "wiring": "x", "power": "y", "light": "z"}
    )
    assert log.light[0] == 500


def test_column_that_nothing_was_read_from_is_told():
    log = read_log(text(head=("time", "wiring", "watts", "Sensor 2")))
    assert log.unread == ("Sensor 2",)
    assert "columns not used: Sensor 2" in analyse_trial(log).verdict.basis
    assert read_log(text()).unread == ()


def test_units_behind_numbers_and_empty_cells_are_understood():
    cells = [(*row[:2], f"{row[2]} W", "" if k == 1 else row[3]) for k, row in enumerate(CELLS)]
    log = read_log(text(cells=cells))
    assert log.power[0] == 100.5
    assert np.isnan(log.light[1])


def test_blocks_by_their_times_leave_out_what_lies_between():
    log = read_log(
        text(head=("time", "watts", "light"), cells=[(row[0], *row[2:]) for row in CELLS]),
        blocks="before 10:00-10:05, after 10:20-10:40, before 10:41-11:00",
    )
    assert log.wiring.tolist() == ["before", "before", "after", "after", "after", "before"]


def test_clock_times_of_blocks_are_refused_where_the_log_has_no_clock():
    plain = [(str(minute), *row[2:]) for minute, row in zip((0, 5, 20, 25, 40, 45), CELLS, strict=True)]
    with pytest.raises(ValueError, match="'10:00' in 'before 10:00-10:05' is no time of this log"):
        read_log(text(head=("minutes", "watts", "light"), cells=plain), blocks="before 10:00-10:05, after 20-25")


def test_blocks_meet_rows_that_begin_within_a_minute():
    seconds = with_times("10:00:30", "10:05:30", "10:20:30", "10:25:30", "10:40:30", "10:45:30")
    log = read_log(
        text(head=("time", "watts", "light"), cells=[(row[0], *row[2:]) for row in seconds]),
        blocks="before 10:00:30-10:05:30, after 10:20:30-10:25:30, before 10:40:30-10:45:30",
    )
    assert log.wiring.tolist() == ["before", "before", "after", "after", "before", "before"]


def test_blocks_of_a_log_without_a_clock_are_given_in_its_minutes():
    plain = [(str(minute), *row[2:]) for minute, row in zip((0, 5, 20, 25, 40, 45), CELLS, strict=True)]
    log = read_log(
        text(head=("minutes", "watts", "light"), cells=plain), blocks="before 0-5, after 20 to 25, before 40-45.5"
    )
    assert log.wiring.tolist() == ["before", "before", "after", "after", "before", "before"]


@pytest.mark.parametrize(
    ("rows", "more", "says"),
    [
        (text(cells=[*CELLS[:3], ("10:25", "2s", "l14", "560"), *CELLS[4:]]), {},
         "typed rows, line 5, column 'watts': 'l14' is no number in W"),
        (text(cells=[*CELLS[:3], ("10:25", "2s", "114000", "560"), *CELLS[4:]]), {}, "Are these milliwatts"),
        (text(cells=[*CELLS[:3], ("10:25", "2s", "114", "56000"), *CELLS[4:]]), {}, "Are these lux"),
        (text(cells=[*CELLS[:3], ("10:25", "2s", "1.114,5", "560"), *CELLS[4:]]), {}, "the sign between thousands"),
        (text(cells=with_times("10:00", "10:05", "10:20", "10:15", "10:40", "10:45")), {}, "does not come after"),
        (text(cells=with_times("10:00", "10:05", "10:20", "10:20", "10:40", "10:45")), {}, "Is a row there twice"),
        (text(cells=with_times(*(f"25.10.2026 {t}" for t in ("2:50", "2:55", "2:10", "2:15", "2:30", "2:35")))), {},
         "if the clock was set back"),
        (text(cells=with_times(*(f"25.10.2026 10:{k}0+02:00"[: 22 - 6 * (k == 3)] for k in range(6)))), {},
         "line 5, column 'time': '25.10.2026 10:30'; an offset from UTC stands on some rows and not on others"),
        (text(cells=with_times("10:00", "10:05", "25:20", "10:25", "10:40", "10:45")), {}, "'25:20' is not a time"),
        (text(",", comma=True), {}, "Decimal commas need another delimiter"),
        (text(head=("time", "wiring", "watts", "power")), {}, "could both be power"),
        (text(head=("time", "wiring", "output", "light")), {}, "no column recognised as power"),
        (text(), {"columns": {"pwoer": "watts"}}, "did you mean power"),
        (text(), {"columns": {"power": "wats"}}, "Is 'watts' meant"),
        (text(head=("time", "note", "watts", "light")), {}, "give the times of the blocks"),
        (text(cells=[(row[0], "2p", *row[2:]) for row in CELLS]), {}, "the wirings are 2p; a trial has two"),
        (text(cells=[(row[0], str(k), *row[2:]) for k, row in enumerate(CELLS)]), {}, "A trial compares two"),
        (text(), {"before": "3s"}, "'3s' is no wiring of this log"),
        (text(), {"blocks": "2p 10:00"}, "is no block"),
        (text(), {"blocks": "2p 10-10:20, 2s 10:20-10:30"}, "'2p 10-10:20' mixes a clock time and plain minutes"),
        (text(), {"blocks": "2p 12:00-13:00"}, "no row of the log lies in"),
        (text(), {"blocks": "2p 1.2.3-5, 2s 6-9"}, "'1.2.3' in '2p 1.2.3-5' is no time of this log"),
        (text(), {"blocks": "2p 10:20-10:00"}, "ends before it begins or before the block ahead of it ends"),
        (text(), {"blocks": "2p 10:00-10:20, 2s 10:10-10:30"}, "ends before it begins or before the block ahead"),
        (text(cells=CELLS[:4]), {}, "at least 6"),
        ("", {}, "needs a line of names, then rows"),
        ("time;wiring;watts\n", {}, "typed rows has a line of names and no rows"),
        (text(), {"dates": "year first"}, "day first"),
    ],
)  # fmt: skip
def test_slip_is_told_with_its_place_and_what_would_make_sense(rows, more, says):
    with pytest.raises(ValueError, match=r".") as told:
        read_log(rows, **more)
    assert says in str(told.value)
    assert "\n" not in str(told.value)


def test_files_that_are_no_log_are_refused(tmp_path):
    (tmp_path / "picture.csv").write_bytes(b"\x89PNG\0\0")
    (tmp_path / "huge.csv").write_bytes(b"1;2\n" * (TRIAL.largest // 4 + 1))
    for name, says in (("picture.csv", "not a text file"), ("huge.csv", "larger than"), ("none.csv", "no such file")):
        with pytest.raises(ValueError, match=says):
            read_log(tmp_path / name)
    with pytest.raises(ValueError, match="is a folder"):
        read_log(tmp_path)


@pytest.mark.parametrize(("date", "month"), [("05/31/2026", 5), ("31/05/2026", 5), ("12/13/2026", 12)])
def test_number_above_twelve_tells_which_of_a_date_with_slashes_is_the_day(date, month):
    log = read_log(text(cells=with_times(*(f"{date} 10:{minute:02}" for minute in (0, 5, 20, 25, 40, 45)))))
    assert log.start.month == month
    assert log.minutes.tolist() == [0, 5, 20, 25, 40, 45]


def test_file_of_another_encoding_is_read(tmp_path):
    path = tmp_path / "log.csv"
    path.write_bytes(text(head=("time", "wiring", "watts", "Kühler °C")).encode("latin-1"))
    assert read_log(path, columns={"light": "Kühler °C"}).light[0] == 500


def tried(typed: str):
    """The log, or what is said instead of one."""
    try:
        return read_log(typed), ""
    except ValueError as trouble:
        return None, str(trouble)


@settings(max_examples=60, deadline=None)
@given(some.text(alphabet=some.sampled_from("0123456789.,;:|-/\t\n\"' ABcwatslight#"), max_size=300))
def test_whatever_is_typed_gives_a_log_or_one_plain_message(typed):
    log, told = tried(typed)
    assert log is None or len(log) >= 6
    assert "\n" not in told
    assert len(told) < 1200


def test_spare_panel_stands_for_the_light():
    log = read_log(text(head=("time", "wiring", "watts", "spare_amps"), cells=[(*row[:3], "2.5") for row in CELLS]))
    with pytest.raises(ValueError, match="milliamps"):
        spare_light(log, 5900.0)
    log = read_log(
        text(head=("time", "wiring", "watts", "i_spare"), cells=[(*r[:3], str(float(r[3]) / 200)) for r in CELLS])
    )
    assert spare_light(log, 5.0).light.tolist() == pytest.approx([500, 520, 540, 560, 580, 600])


def test_clear_sky_curve_needs_dates_and_daylight():
    log = read_log(text(cells=with_times(*FORMS["dots"])))
    lit = clear_light(log, 47.05, 15.44, 2.0)
    assert 500 < lit.light[0] < lit.light[-1] < 1000
    with pytest.raises(ValueError, match="ahead of UTC"):
        clear_light(log, 47.05, 15.44, -11.0)
    with pytest.raises(ValueError, match="no dates"):
        clear_light(read_log(text()), 47.05, 15.44, 2.0)
    for place in ((95.0, 15.44, 2.0), (47.05, 181.0, 2.0), (47.05, 15.44, 15.0)):
        with pytest.raises(ValueError, match="makes sense"):
            clear_light(log, *place)


def test_clear_sky_curve_follows_a_measured_clear_day():
    # measured: Graz, 19 June 2017, sensor on the flat (data/graz_1min_days.csv). The course counts, not the
    # height: it may drift by the 2 % an hour that the simulated trials carry as well.
    import pandas as pd
    from trial_simulator import DAYS

    day = (
        pd.read_csv(DAYS, parse_dates=["time_utc"], comment="#")
        .set_index("time_utc")
        .loc["2017-06-19 08:00":"2017-06-19 14:00"]
    )
    share = day["ghi"].to_numpy() / clear_sky(day.index.tz_localize("UTC"), (47.0472, 15.4364))["ghi"].to_numpy()
    assert 0.95 < np.median(share) < 1.12
    hours = np.array([np.median(part) for part in np.array_split(share, 6)])
    assert np.abs(np.diff(np.log(hours))).max() < 0.02
