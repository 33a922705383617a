"""The one door for tables: one table in all its usual forms, guesses as notes, refusals with place and slip, bounds."""

from __future__ import annotations

import hashlib
import json
import re
import subprocess
import sys
from datetime import datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from vanpower import Days, Place, compare, example, read_controllers, read_log, read_weather
from vanpower.files.columns import TRIAL, WEATHER
from vanpower.files.resources import data_folder
from vanpower.files.tables import read_table
from vanpower.rig import LOG_COLUMNS, WEATHER_RANGES, WeatherLog, WeatherRows
from vanpower.sharing.recipe import chart_recipe, recipe_from_json, recipe_to_json
from vanpower.weather.days import find_day
from vanpower.weather.logs import own_file
from vanpower.weather.row_conversion import day_in

NAMES = ("time", "ghi", "temp_air", "wind_speed")
ROWS = [(f"2026-06-21 {hour:02}:00", f"{45.5 * hour:.1f}", f"{12 + hour / 4:.2f}", "1.5") for hour in range(8, 18)]
# ten hours of a made day, as the forms below write it


def table(sign: str = ",", *, comma: bool = False, time: str = "%Y-%m-%d %H:%M", head: str = "", names=NAMES) -> str:
    """The rows as one form has them."""
    lines = [sign.join(names)]
    for moment, *cells in ROWS:
        cells = [cell.replace(".", ",") for cell in cells] if comma else cells
        lines.append(sign.join([f"{datetime.fromisoformat(moment):{time}}", *cells]))
    return head + "\n".join(lines) + "\n"


SHEET = "\n".join(["time;ghi;temp_air;wind_speed"] + [
    # day 46194 is 21 June 2026: 36526 is 1 January 2000, and 9668 days lie between, by plain count
    f"{46194 + hour / 24:.8f};{';'.join(row[1:])}".replace(".", ",") for hour, row in enumerate(ROWS, 8)])  # fmt: skip
UNIX = "\n".join(["time,ghi,temp_air,wind_speed"] + [
    # POSIX.1, 4.16: 20625 days of 86400 s from 1970 to 21 June 2026
    ",".join([str(20625 * 86400 + 3600 * hour), *row[1:]]) for hour, row in enumerate(ROWS, 8)])  # fmt: skip
FORMS = {
    "commas": table(),
    "semicolons and decimal commas": table(";", comma=True),
    "tabs": table("\t"),
    "tabs and decimal commas": table("\t", comma=True),
    "bars": table("|"),
    "blanks": table(" "),
    "dots": table(";", comma=True, time="%d.%m.%Y %H:%M"),
    "dots and two figures": table(time="%d.%m.%y %H:%M:%S"),
    "slashes": table(time="%m/%d/%Y %H:%M"),
    "slashes, day first": table(time="%d/%m/%Y %H:%M"),
    "slashes, year first": table(time="%Y/%m/%d %H:%M"),
    "halves of a day": table(time="%m/%d/%Y %I:%M %p"),
    "ISO 8601": table(time="%Y%m%dT%H%M"),
    "a clock alone": table(time="%H:%M", head="# date: 2026-06-21\n"),
    "date and clock apart": table("\t", time="%d.%m.%Y\t%H:%M", names=("date", *NAMES)),
    "days of a spreadsheet": SHEET,
    "a line of a spreadsheet": table(";", comma=True, head="sep=;\n"),
    "quotes": "".join(f'"{line}"\n' for line in table('","').splitlines()),
    "blank rows at the end": table(";") + ";;;\n;;;\n",
    "old Macintosh": table().replace("\n", "\r"),
    "a remark between": table().replace("2026-06-21 12:00", "# lunch, and a cloud\n2026-06-21 12:00"),
    "nothing behind": table().replace(",1.5\n", ",1.5,,\n"),
    "units and capitals": table(names=("Time", "GHI [W/m²]", "Temp_Air (°C)", "Wind Speed m/s")),
    "units behind numbers": re.sub(r",1\.5\n", ",1.5 m/s\n", table()),
}  # fmt: skip
ENCODINGS = {"UTF-8": "utf-8", "with a mark": "utf-8-sig", "UTF-16": "utf-16", "Latin-1": "latin-1"}


def read(held: str | bytes, tmp_path: Path) -> pd.DataFrame:
    """The rows of a file as weather."""
    path = tmp_path / "own.csv"
    path.write_bytes(held if isinstance(held, bytes) else held.encode())
    return own_file(WeatherLog(path=str(path))).table


def expected() -> pd.DataFrame:
    """The rows by plain float and Python's own ISO reader."""
    index = pd.DatetimeIndex([datetime.fromisoformat(row[0]) for row in ROWS])
    return pd.DataFrame({name: [float(row[k]) for row in ROWS] for k, name in enumerate(NAMES) if k}, index=index)


@pytest.mark.parametrize("form", FORMS)
def test_weather_reads_the_same_from_every_usual_form(form, tmp_path):
    pd.testing.assert_frame_equal(read(FORMS[form], tmp_path), expected(), check_index_type=False, check_freq=False)


@pytest.mark.parametrize("encoding", ENCODINGS)
def test_weather_reads_the_same_in_every_encoding(encoding, tmp_path):
    held = ("# Süd\n" + table()).encode(ENCODINGS[encoding])
    pd.testing.assert_frame_equal(read(held, tmp_path), expected(), check_index_type=False, check_freq=False)


def test_seconds_since_1970_are_utc_and_shown_by_the_clock_that_is_named(tmp_path):
    there = read(UNIX, tmp_path)
    assert there.index[0] == pd.Timestamp("2026-06-21 08:00", tz="UTC")
    oslo = read("# time_zone: Europe/Oslo\n" + UNIX, tmp_path)
    assert (oslo.index[0].hour, oslo.index[0] - there.index[0]) == (10, pd.Timedelta(0))


def as_log(held: str) -> str:
    """The same rows as a log of a trial."""
    lines = held.replace("temp_air", "power", 1).replace("Temp_Air (°C)", "Power", 1).split("\n")
    return "\n".join(lines)


@pytest.mark.parametrize("form", [form for form in FORMS if form not in ("units behind numbers", "a clock alone")])
def test_log_of_a_trial_reads_the_same_from_every_usual_form(form):
    log = read_log(as_log(FORMS[form]).replace("ghi", "light").replace("GHI", "light").encode(), pilot=True)
    assert log.light.tolist() == [float(row[1]) for row in ROWS]
    np.testing.assert_allclose(log.minutes, np.arange(10) * 60.0, atol=1e-3)
    assert abs((log.start - datetime(2026, 6, 21, 8)).total_seconds()) < 1


LIST = [("name", "v_pv_max", "i_charge_max", "cold_cutoff", "price"), ("a", "100", "30.5", "yes", "99.5"),
        ("b", "60", "10", "", "")]  # fmt: skip


@pytest.mark.parametrize(("sign", "comma"), [(",", False), (";", True), ("\t", True), ("|", False), (";", False)])
@pytest.mark.parametrize("encoding", ENCODINGS)
def test_list_of_controllers_reads_the_same_as_a_continental_spreadsheet_saves_it(sign, comma, encoding):
    # it was refused with "separate the columns with commas, not semicolons"
    lines = [sign.join(row) for row in LIST]
    held = "# Preise für alles\n" + "\n".join(lines).replace(*(".", ",") if comma else ("", ""))
    first, second = read_controllers(held.encode(ENCODINGS[encoding]))
    assert (first.v_pv_max, first.i_charge_max, first.cold_cutoff, first.price) == (100.0, 30.5, True, 99.5)
    assert (second.name, second.cold_cutoff, second.price) == ("b", None, None)


# Guesses


def test_what_is_told_from_a_file_is_a_note():
    noted = read_table(table(";", comma=True).encode("utf-16"), WEATHER)
    assert noted.notes == ("saved as UTF-16", "parted by semicolons", "decimals with a comma")
    assert read_table(("# Süd\n" + table()).encode("latin-1"), WEATHER).notes[0].startswith("read as Latin-1")
    assert "a number above 12 shows" in read_table(FORMS["slashes"], WEATHER).times().notes[0]
    assert read_table(SHEET, WEATHER).times().notes == ("times are days of a spreadsheet",)


def test_note_on_the_times_reaches_the_answer(tmp_path):
    (tmp_path / "own.csv").write_text(FORMS["slashes"])
    day = find_day(str(tmp_path / "own.csv"), "only")
    assert "dates with slashes were read month first, as a number above 12 shows" in day.notes


def test_said_and_unread_are_kept():
    found = read_table("# time_zone: UTC\n# by = hand\n" + table(names=("time", "ghi", "temp_air", "mood")), WEATHER)
    assert (dict(found.said), found.unread) == ({"time_zone": "UTC", "by": "hand"}, ("mood",))


@pytest.mark.parametrize(
    ("head", "cell", "name", "value"),
    [
        # NIST SP 811 (2008), B.8: a degree Fahrenheit 5/9 K from 32, a mile 1609.344 m, a knot 1852 m in 3600 s
        ("temp_air (°F)", "77", "temp_air", 25.0),
        ("Temp_air K", "298.15", "temp_air", 25.0),
        ("ghi (kW/m²)", "0.5", "ghi", 500.0),
        ("wind_speed (mph)", "10", "wind_speed", 4.4704),
        ("wind_speed [kn]", "10", "wind_speed", 18520 / 3600),
        ("wind_speed (km/h)", "36", "wind_speed", 10.0),
        ("p_harvest (kW)", "0.2", "p_harvest", 200.0),
    ],
)
def test_unit_in_the_name_of_a_column_of_weather_is_reckoned_with(head, cell, name, value):
    names = [head if name == known else known for known in ("time", "ghi", "temp_air")]
    cells = {"ghi": "500", "temp_air": "20", name: cell}
    names = names if head in names else [*names, head]
    row = ["2026-06-21 10:00", *(cells[name if one == head else one] for one in names[1:])]
    assert read_table(f"{';'.join(names)}\n{';'.join(row)}", WEATHER)[name][0] == pytest.approx(value)


def test_column_that_a_line_at_the_top_calls_fahrenheit_is_converted(tmp_path):
    # 50 °F are (50 - 32) / 1.8 = 10 °C; they were read as 50 °C
    held = "# temp_air: Outside °F\n" + table(names=("time", "ghi", "Outside °F", "wind_speed")).replace(
        ",15.00,", ",50,"
    )
    assert read(held, tmp_path)["temp_air"].iloc[4] == pytest.approx(10.0)


# Numbers that may be two


@pytest.mark.parametrize(
    ("cell", "other"), [("1.050", "13,2"), ('"1,050"', "13.2"), ('"1,050"', "13")], ids=["points", "commas", "quoted"]
)
def test_number_that_may_be_thousands_or_decimals_is_refused(cell, other):
    # a log with decimal commas had its 1.050 W read as 1.05 W
    sign = ";" if "," in other else ","
    held = sign.join(("minutes", "watts", "v_battery")) + "".join(
        f"\n{sign.join((str(k), cell if k == 3 else '950', other))}" for k in range(6)
    )
    with pytest.raises(ValueError, match=r"line 5, column 'watts': '1[.,]050' may be thousands or decimals"):
        read_table(held, TRIAL)


@pytest.mark.parametrize("text", ["13.281", "101.234"])
def test_three_decimals_that_all_rows_have_are_decimals(text):
    held = "minutes;watts;v_battery" + "".join(f"\n{k};{text};0.500" for k in range(6))
    assert read_table(held, TRIAL)["power"].tolist() == [float(text)] * 6


@pytest.mark.parametrize("last", ["46190001194,7", "99999,5"])
def test_count_of_days_that_runs_off_is_no_time(last):
    with pytest.raises(ValueError, match=rf"line 12, column 'time': '{last}' is not a time"):
        read_table(f"{SHEET}\n{last};1;1;1", WEATHER).times()


# One range


@pytest.mark.parametrize("name", [name for name in LOG_COLUMNS if name in WEATHER_RANGES])
def test_quantity_of_weather_has_one_range_in_files_and_in_rows(name):
    # dni ended at 1400 W/m² in files and at 1800 in rows; the sun sends 1361 / 0.9833² = 1407.6 W/m² to the top of the
    # air in January (Kopp and Lean 2011), the bound of BSRN recommended QC tests V2.0, and 0.95 of it and 50 of sky
    most = WEATHER_RANGES[name][1]
    assert WEATHER.column(name).most == most
    assert WEATHER_RANGES["dni"][1] == pytest.approx(1361 / 0.9833**2, abs=5)
    assert WEATHER_RANGES["dhi"][1] == pytest.approx(0.95 * 1361 / 0.9833**2 + 50, abs=5)
    fine = {"ghi": "500", "temp_air": "20"}
    for value, refused in ((most, False), (most + 5, True)):
        cells = fine | {name: f"{value:g}"}
        held = f"time,{','.join(cells)}\n2026-06-21 10:00,{','.join(cells.values())}\n"
        rows = {"ghi": 500.0, "temp_air": 20.0, "wind_speed": 1.0} | {name: float(value)}
        columns = {one: (number, number) for one, number in rows.items()}
        for door in (
            lambda held=held: read_table(held, WEATHER),
            lambda columns=columns: WeatherRows(
                place="x", start="2026-06-21", seconds=(0, 60), step_h=1 / 60, **columns
            ),
        ):
            if refused:
                with pytest.raises(ValueError, match=r"makes? sense"):
                    door()
            else:
                door()


# DataFrames

HOURS = pd.date_range("2026-06-21 08:00", periods=10, freq="h")


def frame() -> pd.DataFrame:
    """The rows as a DataFrame."""
    return expected().rename(columns={"ghi": "Sun W/m2"})


def test_dataframe_of_weather_is_held_by_a_request_and_compares_as_the_file_does(tmp_path):
    path = tmp_path / "own.csv"
    path.write_text(table(), encoding="utf-8")
    rows = read_weather(frame(), columns={"ghi": "Sun W/m2"}, name="own")
    rig = {"2s": example("bookmobile")}
    there, here = (compare(rig, Days(weather=weather, day="only")) for weather in (str(path), rows))
    assert here.outcomes["2s"].energy_wh == there.outcomes["2s"].energy_wh
    assert here.verdict.sentence == there.verdict.sentence


def test_dataframe_of_a_year_is_held_and_one_day_of_it_goes_along_with_a_chart():
    hours = pd.date_range("2026-01-01", periods=8760, freq="h", tz="Europe/Oslo")
    light = np.maximum(0.0, 700 * np.sin((hours.hour.to_numpy() - 6) / 12 * np.pi))
    year = pd.DataFrame({"ghi": light, "temp_air": 5.0}, index=hours)
    rows = read_weather(year, name="my moor")
    assert (day_in(rows).days, len(rows.seconds)) == (365, 8760)
    recipe = chart_recipe("answer", {"2s": example("bookmobile")}, Days(weather=rows, day="06-21"))
    assert len(recipe.requests[0].weather.seconds) == 24
    assert recipe_from_json(recipe_to_json(recipe), "post.txt") == recipe


def test_dataframe_with_a_place_is_held_against_the_sun():
    rows = frame().rename(columns={"Sun W/m2": "ghi"})
    oslo = Place(latitude_deg=59.9, longitude_deg=10.7, time_zone="Europe/Oslo")
    assert read_weather(rows, place=oslo).position == (59.9, 10.7)
    with pytest.raises(ValueError, match="of its light comes with the sun down"):
        read_weather(rows, place=Place(latitude_deg=-10.0, longitude_deg=-170.0, time_zone="Europe/Oslo"))


MINUTES = pd.date_range("2026-05-31 10:00", periods=9, freq="5min")


def trial() -> pd.DataFrame:
    """Nine rows of a trial."""
    return pd.DataFrame(
        {
            "PV W": [100.0 + k for k in range(9)],
            "plug": ["2p"] * 3 + ["2s"] * 3 + ["2p"] * 3,
            "light": 500,
            "note": None,
        },
        index=MINUTES,
    )


def test_dataframe_of_a_trial_is_a_log():
    log = read_log(trial(), columns={"power": "PV W", "wiring": "plug"})
    assert (log.order, log.after, log.start) == ("A-B-A", "2s", datetime(2026, 5, 31, 10))
    assert log.power.tolist() == [100.0 + k for k in range(9)]
    assert log.minutes.tolist() == [5.0 * k for k in range(9)]
    assert log.unread == ("note",)


def test_dataframe_reads_as_its_own_csv():
    held = trial().to_csv(index_label="time")
    there, here = (read_log(source, columns={"power": "PV W", "wiring": "plug"}) for source in (held, trial()))
    assert there.power.tolist() == here.power.tolist()
    assert (there.start, there.order, there.minutes.tolist()) == (here.start, here.order, here.minutes.tolist())


def test_dataframe_of_controllers_is_a_list():
    offers = pd.DataFrame({"name": ["a", "b"], "most": [100, 60], "i_charge_max": [30.5, 10.0],
                           "cold_cutoff": [True, None]})  # fmt: skip
    first, second = read_controllers(offers, columns={"v_pv_max": "most"})
    assert (first.v_pv_max, first.cold_cutoff, second.cold_cutoff) == (100.0, True, None)


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        (trial().assign(**{"PV W": 60_000.0}), "DataFrame, row 1, column 'PV W': '60000.0'; from -50 to 50000 W"),
        (trial().assign(**{"PV W": "lots"}), "row 1, column 'PV W': 'lots' is no number in W"),
        (trial()[::-1], "row 2, column 'time': '2026-05-31 10:35:00' does not come after"),
        (trial().drop(columns="PV W"), "has no column 'PV W' for power"),
        (pd.DataFrame({"PV W": np.zeros(300_000), "plug": "2p"}), "up to 200000 rows"),
        (trial().reset_index(names="time").set_index("time", drop=False).assign(time="soon"), "'soon' is not a time"),
        ([1, 2], "a pandas DataFrame; list is none"),
    ],
)
def test_dataframe_that_cannot_be_is_refused_by_row_and_column(changed, says):
    with pytest.raises(ValueError, match=re.escape(says)):
        read_log(changed, columns={"power": "PV W", "wiring": "plug"})


# What files read to, frozen before there was one reader

FROZEN = json.loads((Path(__file__).parent / "files_read.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", FROZEN["logs"])
def test_log_reads_to_the_numbers_of_the_reader_before(name):
    """Only what the code of before read, kept under that name; by the log of the kit and those of the simulators."""
    held = FROZEN["logs"][name]
    log = read_log(data_folder() / "logs" / name if held["text"] is None else held["text"].encode())
    for field, digest in held["digests"].items():
        assert digest_of(getattr(log, field)) == digest, field
    assert log.power.tolist()[:3] == held["power"]


@pytest.mark.parametrize("name", FROZEN["weather"])
def test_weather_reads_to_the_numbers_of_the_reader_before(name, tmp_path):
    held = FROZEN["weather"][name]
    day = read(held["text"], tmp_path)
    assert {column: digest_of(day[column].to_numpy()) for column in day} == held["digests"]
    assert [str(day.index[0]), str(day.index[-1])] == held["ends"]


def test_list_of_the_kit_reads_to_the_controllers_of_the_reader_before():
    assert [list(map(str, (one.name, one.v_pv_max, one.tracker, one.price))) for one in read_controllers()] == (
        FROZEN["list"]
    )


def digest_of(values: np.ndarray) -> str:
    """A fingerprint of numbers as printed to ten figures."""
    text = ",".join(f"{value:.10g}" for value in np.asarray(values, dtype=float))
    return hashlib.sha256(text.encode()).hexdigest()[:12]


def test_log_and_list_are_read_without_pandas():
    code = (
        "import sys; from vanpower import read_controllers, read_log; "
        "from vanpower.files.resources import data_folder; read_controllers(); "
        "read_log(data_folder() / 'logs' / 'apple-barn.csv'); print('pandas' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
