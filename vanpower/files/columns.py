"""What each kind of table may hold: its columns by name, unit and range, and how large it may be."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches

from vanpower.files.units import AMPS, CELSIUS, LIGHT, MINUTES, SPEED, VOLTS, WATT_HOURS, WATTS, WORDS, Units, plain
from vanpower.rig import WEATHER_RANGES

NUMBERS, TEXTS, TIMES = "numbers", "texts", "times"
# what a column holds
BELOW_ZERO = 20.0
# [W/m², W] light and watts read slightly below zero at night, which counts as none; no source
HOTTEST_AIR = 200.0
# [°C] air that many degrees warm is told in kelvin
GAP_MARKS = frozenset(sign * number for number in (99.9, 999.0, 999.9, 9999.0) for sign in (1.0, -1.0))
# what loggers write where nothing was read; common practice, no source
VALUE = re.compile(r"[-+]?\d+([.,:/-]\d+)*|\d[\d./-]*[ T]\d\d?:\d\d.*")
# a number, a date or a time
LONGEST_SHOWN, LONGEST_NAMES = 40, 120
# letters of a cell, and of all names of a file, that a message repeats


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column that a table may hold.

    Parameters
    ----------
    name : str
        What the kit calls it.
    about : str
        What it is, in words for a message.
    words : str
        Other names that are recognised, without case, blanks, signs and units, parted by blanks.
    holds : str
        "numbers", "texts" or "times".
    unit : str
        What numbers are reckoned in.
    units : mapping of str to Unit
        What they may be given in.
    least, most : float
        What can be; everything else is refused.
    slips : tuple of (float, str)
        What was likely meant by a number beyond these, the last that fits.
    needed : bool

    Examples
    --------
    >>> volts = Column(name="v_array", unit="V", least=0.0, most=1500.0, slips=((1500.0, "Are these millivolts?"),))
    >>> volts.slip(30_000.0), volts.slip(-4.0)
    (' Are these millivolts?', '')
    """

    name: str
    about: str = ""
    words: str = ""
    holds: str = NUMBERS
    unit: str = ""
    units: Units = field(default_factory=dict)
    least: float = -float("inf")
    most: float = float("inf")
    slips: tuple[tuple[float, str], ...] = ()
    needed: bool = False

    def slip(self, value: float) -> str:
        """What a number beyond the range may have been meant in, as the end of a sentence."""
        if value in GAP_MARKS:
            return " Does it mark a gap? Leave the cell empty."
        fitting = [sentence for beyond, sentence in self.slips if value > beyond]
        return f" {fitting[-1]}" if fitting else ""

    @property
    def sense(self) -> str:
        """The range in words."""
        return f"from {self.least:g} to {self.most:g} {self.unit}".rstrip()


@dataclass(frozen=True, kw_only=True)
class Form:
    """One kind of table: its columns and its bounds, which are held before a file is taken apart.

    Parameters
    ----------
    what : str
        What messages call a file of this kind.
    columns : tuple of Column
    largest : int
        [bytes]
    most_lines, most_rows, longest_line, most_cells, most_columns : int
    shorter : str
        What to do about a file that is too large.
    by_name : bool
        Whether the kit's own names win over others that would be recognised as well.
    heads : bool
        Whether lines at the top may say what columns are called: "# ghi: Global W/m2".
    filled : bool
        Whether a row that ends early has gaps at its end; else it is refused.
    closed : bool
        Whether a column of an unknown name is refused.

    Examples
    --------
    >>> WEATHER.what, WEATHER.column("ghi").needed
    ('weather file', True)
    """

    what: str
    columns: tuple[Column, ...]
    largest: int
    most_lines: int
    most_rows: int
    longest_line: int
    most_cells: int
    most_columns: int
    shorter: str
    by_name: bool = True
    heads: bool = False
    filled: bool = False
    closed: bool = False

    def column(self, name: str) -> Column:
        """A column by the kit's name for it."""
        return next(column for column in self.columns if column.name == name)


TIME_WORDS = "timestamp datetime clock zeit uhrzeit zeitpunkt heure hora ora tijd"
DATE = Column(name="date", about="the date, where it stands apart from the time", words="datum fecha data", holds=TEXTS)
_LUX, _FAHRENHEIT = "Are these lux, or milliwatts?", "Is this Fahrenheit?"
_LIGHT_LEAST, _LIGHT_MOST, _ = WEATHER_RANGES["ghi"]
TRIAL = Form(
    what="log",
    columns=(
        Column(
            name="time", about="clock time, date and time, or plain minutes", holds=TIMES, unit="minutes",
            units=MINUTES, words=f"minutes minute min seconds second sec hours elapsed unixtime epoch {TIME_WORDS}",
            needed=True,
        ),
        DATE,
        Column(
            name="wiring", about="which wiring a row belongs to", holds=TEXTS,
            words="block label setup ab verschaltung schaltung verdrahtung cablage cableado",
        ),
        Column(
            name="power", about="W from the panels or into the battery", unit="W", units=WATTS, least=-50.0,
            most=50_000.0, slips=((50_000.0, "Are these milliwatts?"),), needed=True,
            words="watts watt w p pvpower pvw solarw solarpower leistung pvleistung solarleistung puissance potencia "
            "potenza vermogen",
        ),
        Column(
            name="light", about="W/m² on the panels' plane", unit="W/m²", units=LIGHT, least=-BELOW_ZERO,
            most=_LIGHT_MOST, slips=((_LIGHT_MOST, _LUX),),
            words="irradiance sun g wm2 einstrahlung licht rayonnement irradiancia irraggiamento instraling",
        ),
        Column(
            name="temp", about="°C at the back of a panel", unit="°C", units=CELSIUS, least=-60.0, most=110.0,
            slips=((110.0, _FAHRENHEIT), (HOTTEST_AIR, "Is this kelvin?")),
            words="temperature celsius c paneltemp celltemp temppanel tempcell tmod modul module temperatur "
            "temperatura",
        ),
        Column(
            name="stage", about="charge stage", holds=TEXTS,
            words="chargestage state ladestufe ladephase phase etape",
        ),
        Column(
            name="v_battery", about="V at the battery", unit="V", units=VOLTS, least=0.0, most=120.0,
            slips=((120.0, "Are these millivolts?"),),
            words="batteryvolts batteryvoltage vbat vbatt batt battery batterie batteriespannung",
        ),
        Column(
            name="i_battery", about="A into the battery", unit="A", units=AMPS, least=-500.0, most=500.0,
            slips=((500.0, "Are these milliamps?"),),
            words="batteryamps batterycurrent ibat ibatt chargecurrent chargeamps ladestrom",
        ),
        Column(
            name="v_array", about="V at the controller's panel input", unit="V", units=VOLTS, least=0.0, most=1_500.0,
            slips=((1_500.0, "Are these millivolts?"),),
            words="pvvolts pvvoltage panelvolts vpv pvv arrayvolts modulspannung pvspannung panelspannung",
        ),
        Column(
            name="i_spare", about="short-circuit A of a spare panel", unit="A", units=AMPS, least=0.0, most=40.0,
            slips=((40.0, "Are these milliamps?"),), words="spareamps spareisc sparepanel isc",
        ),
    ),
    largest=20_000_000,
    most_lines=600_000,
    most_rows=200_000,
    longest_line=16_000,
    most_cells=2_000_000,
    most_columns=80,
    shorter="Cut out the hours of the trial.",
    by_name=False,
)  # fmt: skip
# a log of a field trial; ranges of what a log can mean have no source. More than a day of seconds with ten columns


def _weather(name: str, about: str, units: Units, slips: tuple[tuple[float, str], ...] = (), words: str = "",
             needed: bool = False) -> Column:  # fmt: skip
    """A column of weather, with its one range."""
    least, most, unit = WEATHER_RANGES[name]
    least = -BELOW_ZERO if unit == "W/m²" else least
    return Column(
        name=name, about=about, words=words, unit=unit, units=units, least=least, most=most, slips=slips, needed=needed
    )


_HOT = ((WEATHER_RANGES["temp_air"][1], _FAHRENHEIT), (HOTTEST_AIR, "Is this kelvin?"))
WEATHER = Form(
    what="weather file",
    columns=(
        Column(name="time", about="date and clock time", holds=TIMES, words=TIME_WORDS, needed=True),
        DATE,
        _weather("ghi", "W/m² on the flat", LIGHT, ((_LIGHT_MOST, _LUX),), "globalhorizontal", needed=True),
        _weather("dni", "W/m² straight from the sun", LIGHT, ((WEATHER_RANGES["dni"][1], _LUX),), "directnormal"),
        _weather("dhi", "W/m² from the sky on the flat", LIGHT, ((WEATHER_RANGES["dhi"][1], _LUX),),
                 "diffusehorizontal"),
        _weather("temp_air", "°C of the air", CELSIUS, _HOT, "airtemp airtemperature lufttemperatur", needed=True),
        _weather("wind_speed", "m/s", SPEED, words="windspeed"),
        _weather("temp_battery", "°C of the house battery", CELSIUS, _HOT, "batterytemp"),
        Column(
            name="p_harvest", about="W that the controllers delivered", unit="W", units=WATTS, least=-BELOW_ZERO,
            most=20_000.0, slips=((20_000.0, "Are these milliwatts?"),),
        ),
        Column(
            name="harvest_wh", about="Wh that they delivered within each row", unit="Wh", units=WATT_HOURS,
            least=-BELOW_ZERO, most=50_000.0,
        ),
    ),
    largest=40_000_000,
    most_lines=530_000,
    most_rows=530_000,
    longest_line=4000,
    most_cells=8_000_000,
    most_columns=400,
    shorter="A year of minutes takes 30 MB.",
    heads=True,
    filled=True,
)  # fmt: skip
# a person's own log of weather: light is known by names alone that say where the sensor lies. A year of minutes has
# 527,040 with its leap day; no source

_VOLTS_PANEL = ((1_500.0, "Are these millivolts?"),)
_VOLTS_BATTERY = ((120.0, "Are these millivolts?"),)


def _spent(name: str, about: str, words: str) -> Column:
    """Minutes that a controller spent in one stage on a day."""
    most = 24.0 * 60.0
    return Column(name=name, about=about, words=words, unit="minutes", units=MINUTES, least=0.0, most=most,
                  slips=((most, "Are these seconds? Then end the column's name with (s)."),))  # fmt: skip


HISTORY = Form(
    what="daily history",
    columns=(
        Column(name="time", about="the date of the day", holds=TIMES, needed=True,
               words=f"date day datum tag fecha data jour giorno dia dag {TIME_WORDS}"),
        Column(name="energy_wh", about="Wh of the day", unit="Wh", units=WATT_HOURS, least=0.0, most=400_000.0,
               words="energy yield harvest production produced generated wh kwh watthours ertrag tagesertrag energie "
               "solarenergy pvenergy dailyenergy energytoday yieldtoday dailyyield"),
        Column(name="p_high", about="highest W of the day", unit="W", units=WATTS, least=0.0, most=50_000.0,
               slips=((50_000.0, "Are these milliwatts?"),),
               words="maxpower peakpower highestpower powermax pmax maxwatts peakwatts watts"),
        Column(name="v_high", about="highest panel V of the day", unit="V", units=VOLTS, least=0.0, most=1_500.0,
               slips=_VOLTS_PANEL, words="maxpvvoltage maxpanelvolts vpvmax maxpvv maxvpv panelvolts pvvolts"),
        Column(name="v_battery_low", about="lowest battery V of the day", unit="V", units=VOLTS, least=0.0,
               most=120.0, slips=_VOLTS_BATTERY, words="minbatteryvoltage minbatteryvolts vbatmin minvbat"),
        Column(name="v_battery_high", about="highest battery V of the day", unit="V", units=VOLTS, least=0.0,
               most=120.0, slips=_VOLTS_BATTERY, words="maxbatteryvoltage maxbatteryvolts vbatmax maxvbat"),
        _spent("bulk_min", "minutes in bulk", "bulk bulktime timeinbulk minutesbulk bulkminutes"),
        _spent("absorption_min", "minutes in absorption",
               "absorption absorptiontime timeinabsorption minutesabsorption absorptionminutes"),
        _spent("float_min", "minutes in float", "float floattime timeinfloat minutesfloat floatminutes"),
        Column(name="circuit", about="which controller a row is of", holds=TEXTS,
               words="controller charger tracker regler laderegler unit device"),
    ),
    largest=20_000_000,
    most_lines=100_000,
    most_rows=100_000,
    longest_line=16_000,
    most_cells=4_000_000,
    most_columns=200,
    shorter="Twenty years of days take 7,300 rows a controller.",
    filled=True,
)  # fmt: skip
# what a controller remembers of each day; ranges of what such a history can mean have no source
STAYS = Form(
    what="list of stays",
    columns=(
        Column(name="time", about="the date from which the van stood there", holds=TIMES, needed=True,
               words=f"from since arrival arrived begin start ab von date day datum {TIME_WORDS}"),
        Column(name="latitude", about="degrees, north positive", least=-90.0, most=90.0, words="lat breite",
               slips=((90.0, "Are latitude and longitude swapped?"),)),
        Column(name="longitude", about="degrees, east positive", least=-180.0, most=180.0,
               words="lon lng long länge laenge"),
        Column(name="heading", about="degrees the nose points, clockwise from north", least=0.0, most=360.0,
               words="headingdeg nose kompass"),
        Column(name="place", about="what the place is called", holds=TEXTS, words="name where town ort platz remark"),
    ),
    largest=1_000_000,
    most_lines=20_000,
    most_rows=20_000,
    longest_line=4000,
    most_cells=200_000,
    most_columns=40,
    shorter="A row a move is enough.",
    filled=True,
)  # fmt: skip
# where a van stood from which date on, a row for each move


def places_of(names: Sequence[str], form: Form, file: str, given: Mapping[str, str]) -> dict[str, int]:
    """Which column of a file holds which of a form: as the user named it, or by a name that is recognised.

    Examples
    --------
    >>> places_of(["Zeit", "Leistung (W)", "x"], TRIAL, "log.csv", {"wiring": "x"})
    {'wiring': 2, 'time': 0, 'power': 1}
    """
    place = {field: _given(field, wanted, names, form, file) for field, wanted in given.items()}
    for column in form.columns:
        if column.name in place:
            continue
        known = {bared(column.name), *column.words.split()}
        exact = [k for k, name in enumerate(names) if name == column.name]
        found = [k for k, name in enumerate(names) if bare(name) & known and k not in place.values()]
        found = exact if exact and form.by_name else found
        if len(found) > 1:
            raise ValueError(_twice([names[k] for k in found], column, file))
        if found:
            place[column.name] = found[0]
    unknown = [name for k, name in enumerate(names) if k not in place.values()]
    if form.closed and unknown:
        near = get_close_matches(unknown[0], [column.name for column in form.columns], n=2, cutoff=0.5)
        hint = f"; did you mean {' or '.join(near)}?" if near else "."
        raise ValueError(f"{file}: {unknown[0][:LONGEST_SHOWN]!r} is no column{hint}")
    missing = [column for column in form.columns if column.needed and column.name not in place]
    if missing:
        raise ValueError(_missing(missing, names, place, form, file))
    return place


def bared(name: str) -> str:
    """A name without case, blanks and signs."""
    return re.sub(r"[^a-zäöüß0-9]", "", name.lower()) or name.lower()


def bare(name: str) -> set[str]:
    """A column's name without case, blanks, signs and what stands in brackets; with its unit and without it.

    Examples
    --------
    >>> sorted(bare("PV power [W]")), sorted(bare("pv_w")), sorted(bare("Temp °F"))
    (['pvpower'], ['pv', 'pvw'], ['temp', 'tempf'])
    """
    words = re.split(r"[\s_]+", re.sub(r"[\[(].*", "", name.lower()).replace("²", "2").strip())
    kept = words[:-1] if len(words) > 1 and plain(words[-1]) in WORDS else words
    return {re.sub(r"[^a-zäöüß0-9]", "", "".join(some)) or name.lower() for some in (words, kept)}


def listed(names: Sequence[str]) -> str:
    """The names of a file's columns, as many as fit into a line."""
    text = ", ".join(names)
    return text if len(text) <= LONGEST_NAMES else f"{text[:LONGEST_NAMES]}..."


def _given(field: str, wanted: str, names: Sequence[str], form: Form, file: str) -> int:
    """The column the user named for a field."""
    fields = [column.name for column in form.columns]
    if field not in fields:
        near = get_close_matches(field, fields, 1)
        hint = f"did you mean {near[0]}?" if near else f"there are {', '.join(fields)}."
        raise ValueError(f"{field!r} is nothing a {form.what} is asked for; {hint}")
    count = list(names).count(wanted)
    if not count:
        near = get_close_matches(wanted, names, 1)
        hint = f"Is {near[0]!r} meant?" if near else f"It has {listed(names)}."
        raise ValueError(f"{file} has no column {wanted[:LONGEST_NAMES]!r} for {field}. {hint}")
    if count > 1:
        raise ValueError(f"{file}: the column {wanted} is there twice; leave one out.")
    return list(names).index(wanted)


def _twice(found: Sequence[str], column: Column, file: str) -> str:
    """What to say of two columns that could be one."""
    if found[0] == found[1]:
        return f"{file}: the column {found[0]} is there twice; leave one out."
    two = " and ".join(repr(name[:LONGEST_SHOWN]) for name in found[:2])
    what = f" ({column.about})" if column.about else ""
    return f'{file}: {two} could both be {column.name}{what}. Say which: {column.name}="{found[0][:LONGEST_SHOWN]}".'


def _missing(missing: Sequence[Column], names: Sequence[str], place: Mapping[str, int], form: Form, file: str) -> str:
    """What to say of columns that are needed and not there."""
    wanted = ", ".join(f"{column.name} ({column.about})" if column.about else column.name for column in missing)
    free = [name[:LONGEST_SHOWN] for k, name in enumerate(names) if k not in place.values()] or list(names)
    first = missing[0].name
    how = f"A line such as '# {first}: what yours is called' at the top of the file names it."
    how = how if form.heads else f'Name it once, such as {first}="{free[0]}".'
    if any(VALUE.fullmatch(name) for name in names):
        how = "Its first line holds values; write the names of the columns above it."
    return f"{file} has no column recognised as {wanted}; it has {listed(names)}. {how}"
