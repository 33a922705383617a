"""The recipe of a chart: rigs, what was asked of them, the kind of chart, the numbers it showed, and who made it.

A recipe is data only. Nothing in it is run, and no path in it is opened: weather is a typical year by name, or rows
that the recipe carries itself. Size, depth, counts and ranges are bounded before anything is worked out.
"""

from __future__ import annotations

import hashlib
import json
import platform
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from functools import cache
from numbers import Integral, Real
from typing import Any, TypeVar

from vanpower import __version__
from vanpower.files.messages import plain, short
from vanpower.files.rig_forms import MOST_PANELS
from vanpower.files.typed import MISSING_KEY, REFUSED, UNKNOWN_KEY, Misfit, learn, read
from vanpower.rig import (
    Days,
    MadeSky,
    Parked,
    Request,
    Rig,
    Snapshot,
    Stop,
    Weather,
    WeatherLog,
    WeatherRows,
    dates_of,
    printable,
)
from vanpower.sharing.trial_rows import TrialRows
from vanpower.weather.days import find_day, is_by_name
from vanpower.weather.measured import MEASURED
from vanpower.weather.row_conversion import rows_of
from vanpower.weather.typical_years import TYPICAL_YEARS

FORM = 1
# grows when an older kit could misread a newer recipe
LARGEST_RECIPE = 400_000
# [bytes] as text: 150 wirings of six panels take 90 000, a day of minutes with five columns 50 000
DEEPEST = 9
# brackets inside brackets; a recipe needs seven
MOST_VALUES = 60_000
# four days of minutes with six columns each take 36 000
MOST_RIGS, MOST_REQUESTS, MOST_OPTIONS, MOST_NUMBERS, MOST_DAYS = 160, 12, 40, 4000, 4
# more of each than a chart can show
MOST_ROWS = 1500
# of weather: a day of minutes and an hour to spare; no source
MOST_LABELS = 60
# unlike labels: fitting one takes a few tenths of a second, and a roof has one to three
MOST_NOTES = 300
# notes of shade on one roof: 24 panels of three groups have 72, and some groups two
LONGEST_TEXT, LONGEST_KEY = 4000, 200
# characters of a text, and of a name
LARGEST_NUMBER = 1e12
# no quantity of a van is larger
MOST_WORK = 800_000
# curves of cells for which a picture is worth waiting: 10 microseconds each were measured under shade
SHADOWS = 60
# cells x fixtures x fixtures that take as long as a curve: shadows that overlap are cut up; 40 fixtures were measured
MOST_CELLS = 6_000_000
# cells x moments whose light is held at once: 50 MB; a year of hours of four panels of 72 cells takes 2.5 million
MOST_BOOKED = 150_000
# moments x rigs whose losses are booked, 1 kB each; four wirings through a year of hours take 35 000
ID_LENGTH = 8
# hexadecimal digits: enough to tell the charts of a thread apart, and to notice a slip of the hand
Asked = Request | TrialRows | Stop
REQUESTS: dict[str, type[Asked]] = {
    "moment": Snapshot, "day": Days, "parked": Parked, "trial": TrialRows, "stop": Stop,
}  # fmt: skip
# what a recipe calls the kinds of request
TRIP, TRIP_WALKS = "trip", 4
# the one chart that has stops, and how often the light of one is worked out where changes were looked for: for wirings
# and more watts, the rest is kept
QUOTED_OR_BRACKET = re.compile(r'"[^"\\]*(?:\\.[^"\\]*)*"?|[\[\]{}]', re.DOTALL)
# what counts when brackets are counted
DAYS_OF_YEAR, MOST_MEASURED, HOURS_OF_DAY, MINUTES_OF_DAY = 366, 10, 24, 1440
# days of a whole year, more than any measured weather has, and moments of a day by a typical year and by a log

Option = str | bool | int | float | None
T = TypeVar("T")


@dataclass(frozen=True, kw_only=True)
class ChartRecipe:
    """The recipe of a chart: all that is needed to draw it again, and the numbers it showed.

    Parameters
    ----------
    kind : str
        Which chart, a name in `registry.CHARTS`.
    rigs : mapping of str to Rig
        In the order in which the chart shows them.
    requests : tuple of Request or TrialRows
        What was asked of them; a trial's rows need no rig.
    options : mapping of str to str, bool or number
        Further settings of the chart, as in `save_chart`.
    numbers : mapping of str to str
        The numbers the chart showed, as printed.
    versions : mapping of str to str
        Versions of this kit and of the packages under it that drew the chart.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> rigs, moment = {"2p": example("bookmobile")}, Snapshot(light=700, temp_cell=30)
    >>> recipe = ChartRecipe(kind="power", rigs=rigs, requests=(moment,), numbers={"2p": "144 W"})
    >>> changed = replace(recipe, numbers={"2p": "145 W"})
    >>> changed.id == recipe.id, changed.question == recipe.question
    (False, True)
    """

    kind: str
    rigs: Mapping[str, Rig]
    requests: tuple[Asked, ...] = ()
    options: Mapping[str, Option] = field(default_factory=dict)
    numbers: Mapping[str, str] = field(default_factory=dict)
    versions: Mapping[str, str] = field(default_factory=lambda: versions())

    @property
    def id(self) -> str:
        """A short name that changes when anything in the recipe does."""
        return short_id(recipe_to_json(self))

    @property
    def question(self) -> ChartRecipe:
        """The same without the numbers and who made it."""
        return replace(self, numbers={}, versions={})


@dataclass(kw_only=True)
class RecipeForm:
    """Keys of a recipe; rigs, requests and days are checked one by one."""

    form: int
    kind: str
    rigs: dict[str, dict[str, Any]]
    requests: list[dict[str, dict[str, Any]]] = field(default_factory=list)
    days: list[dict[str, Any]] = field(default_factory=list)
    options: dict[str, str | bool | int | float | None] = field(default_factory=dict)
    numbers: dict[str, str] = field(default_factory=dict)
    versions: dict[str, str] = field(default_factory=dict)


learn(RecipeForm, Rig, WeatherRows, *REQUESTS.values())


def versions() -> dict[str, str]:
    """This kit and what its numbers come from."""
    return dict(_versions())


@cache
def _versions() -> tuple[tuple[str, str], ...]:
    """`versions`, looked up once."""
    from importlib.metadata import PackageNotFoundError, version

    found = [("vanpower", __version__), ("python", platform.python_version())]
    for package in ("numpy", "pandas", "pvlib"):
        try:
            found.append((package, version(package)))
        except PackageNotFoundError:
            continue
    return tuple(found)


def chart_recipe(kind: str, rigs: Mapping[str, Rig], *requests: Asked, **options: Option) -> ChartRecipe:
    """The recipe of a chart of these rigs; a day of a person's own file is taken along as rows.

    Raises
    ------
    ValueError
        Where it is too much for a picture to carry.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> rig, moment = example("bookmobile"), Snapshot(light=700, temp_cell=30)
    >>> recipe = chart_recipe("power", {"as it is": rig}, moment, p_top=300)
    >>> recipe.requests[0].light, recipe.options, recipe.rigs["as it is"] == rig
    (700.0, {'p_top': 300}, True)
    """
    carried = tuple(_carried(request) for request in requests)
    recipe = ChartRecipe(kind=kind, rigs=dict(rigs), requests=carried, options=options)
    return recipe_from_json(recipe_to_json(recipe), "this chart")


def _carried(request: Asked) -> Asked:
    """The request with weather that needs no file: by name, made up, or the day's own rows."""
    if isinstance(request, Stop) and _is_file(request.weather):
        raise ValueError(f"{request.name} has a weather file of your own, and stops go by name; send both files along.")
    if not isinstance(request, Days) or not (_is_file(request.weather) or _is_long(request.weather)):
        return request
    found = find_day(request.weather, request.day)
    if len(found.table) > MOST_ROWS:
        raise ValueError(_too_long(len(found.table)))
    return replace(request, weather=rows_of(found), day="only" if found.days == 1 else "all")


def _is_long(weather: Weather) -> bool:
    """Whether a request holds more rows than a chart may carry."""
    return isinstance(weather, WeatherRows) and len(weather.seconds) > MOST_ROWS


def _too_long(rows: int) -> str:
    """What to say of more rows of weather than a chart may carry."""
    return f"a day has {rows} rows; up to {MOST_ROWS} can go with a chart."


def _is_file(weather: Weather) -> bool:
    """Whether a weather would be read from a person's own file."""
    return isinstance(weather, WeatherLog) or (isinstance(weather, str) and not is_by_name(weather))


# To JSON


def recipe_to_json(recipe: ChartRecipe) -> str:
    """The recipe as one line of JSON; a rig after the first says only what differs from it.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> recipe = chart_recipe("power", example("bookmobile").wirings(), Snapshot(light=700, temp_cell=30))
    >>> first, second = json.loads(recipe_to_json(recipe))["rigs"].values()
    >>> sorted(first)[:3], sorted(second)
    (['battery', 'circuits', 'climate'], ['circuits'])
    """
    rigs = {name: asdict(rig) for name, rig in recipe.rigs.items()}
    first = next(iter(rigs.values()), {})
    weathers = [request.weather for request in recipe.requests if isinstance(request, Days)]
    days = {weather.name: weather for weather in weathers if isinstance(weather, WeatherRows)}
    document = {
        "form": FORM,
        "kind": recipe.kind,
        "rigs": {name: rig if rig is first else _difference(rig, first) for name, rig in rigs.items()},
        "requests": [{_word_for(request): _fields(request)} for request in recipe.requests],
        "days": [asdict(rows) for rows in days.values()],
        "options": dict(recipe.options),
        "numbers": dict(recipe.numbers),
        "versions": dict(recipe.versions),
    }
    filled = {key: value for key, value in document.items() if value or key in ("form", "kind", "rigs")}
    text = json.dumps(filled, separators=(",", ":"), default=_number, allow_nan=False)
    if len(text) > LARGEST_RECIPE:
        raise ValueError(
            f"this chart's recipe takes {len(text) // 1000} kB; a picture carries {LARGEST_RECIPE // 1000}."
        )
    return text


def short_id(text: str) -> str:
    """The id of a recipe by its text."""
    return hashlib.sha256(text.encode()).hexdigest()[:ID_LENGTH]


def _difference(rig: Mapping[str, Any], first: Mapping[str, Any]) -> dict[str, Any]:
    """What is not as in the first rig."""
    return {key: value for key, value in rig.items() if value != first[key]}


def _fields(request: Asked) -> dict[str, Any]:
    """A request as plain data; rows of weather by their name, since the recipe has them once."""
    if isinstance(request, Days) and isinstance(request.weather, WeatherRows):
        request = replace(request, weather=request.weather.name)
    return asdict(request)


def _word_for(request: Asked) -> str:
    """What a recipe calls this kind of request."""
    return next(word for word, kind in REQUESTS.items() if type(request) is kind)


def _number(value: object) -> int | float:
    """A number of another make, such as numpy's, as a plain one."""
    if isinstance(value, Integral):
        return int(value)
    if isinstance(value, Real):
        return float(value)
    raise ValueError(f"{short(repr(value))} cannot go into a recipe; plain numbers and text can.")


# From JSON


def recipe_from_json(text: str, source: str) -> ChartRecipe:
    """The recipe in a text from anywhere, checked.

    Parameters
    ----------
    text : str
    source : str
        What messages call the place it came from.

    Raises
    ------
    ValueError
        Where it is none, is too large or too deep, or describes what cannot be.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> recipe = chart_recipe("power", {"as it is": example("bookmobile")}, Snapshot(light=700, temp_cell=30))
    >>> recipe_from_json(recipe_to_json(recipe), "a post") == recipe
    True
    >>> recipe_from_json('{"form": 1, "kind": "power", "rigs": {}}', "a post")
    Traceback (most recent call last):
    ValueError: a post: its recipe cannot be used: it holds no rig.
    """
    try:
        return _checked(_document(text), source)
    except _Refused as refused:
        raise ValueError(f"{source}: its recipe cannot be used: {refused}") from None


class _Refused(Exception):
    """What is wrong, without the place it came from."""


def _document(text: str) -> Any:
    """The text as plain data, bounded in size, depth and numbers."""
    if len(text) > LARGEST_RECIPE:
        raise _Refused(f"it is larger than {LARGEST_RECIPE // 1000} kB, more than a chart takes.")
    if text.count(",") > MOST_VALUES:
        raise _Refused(f"it holds more than {MOST_VALUES} values, more than a chart takes.")
    if _nests_deeper(text, DEEPEST):
        raise _Refused(f"its brackets nest deeper than the {DEEPEST} a recipe takes.")
    try:
        document = json.loads(text, parse_constant=_no_constant, object_pairs_hook=_no_twins)
    except ValueError:
        raise _Refused("it is no JSON; was it cut or edited?") from None
    for value in _leaves(document):
        if isinstance(value, float | int) and not abs(value) <= LARGEST_NUMBER:
            raise _Refused(f"it holds a number beyond {LARGEST_NUMBER:g}.")
        if isinstance(value, str) and (len(value) > LONGEST_TEXT or (not value.isascii() and _broken(value))):
            raise _Refused(f"it holds a text that is broken or longer than {LONGEST_TEXT} letters.")
    return document


def _nests_deeper(text: str, most: int) -> bool:
    """Whether brackets nest deeper than so many, those inside quotes left out."""
    level = 0
    for piece in QUOTED_OR_BRACKET.finditer(text):
        level += {"[": 1, "{": 1, "]": -1, "}": -1}.get(piece[0], 0)
        if level > most:
            return True
    return False


def _no_constant(word: str) -> None:
    raise _Refused(f"it holds {word}, which is no number here.")


def _no_twins(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """A table whose keys are there once each."""
    table = dict(pairs)
    if len(table) < len(pairs):
        raise _Refused("it says a key twice.")
    return table


def _leaves(value: Any) -> Iterator[Any]:
    """Every plain value and key inside."""
    if isinstance(value, dict):
        yield from value
        for part in value.values():
            yield from _leaves(part)
    elif isinstance(value, list):
        for part in value:
            yield from _leaves(part)
    else:
        yield value


def _broken(text: str) -> bool:
    """Whether a text holds halves of letters, which no file can store."""
    return any(0xD800 <= ord(letter) <= 0xDFFF for letter in text)


def _checked(document: Any, source: str) -> ChartRecipe:
    """The recipe that plain data describes."""
    if isinstance(document, dict) and isinstance(document.get("form"), int) and document["form"] > FORM:
        raise _Refused("a newer kit made it; update vanpower to read it.")
    form = _described(RecipeForm, document, "")
    _check_counts(form)
    rigs = _rigs(form.rigs)
    days = [_described(WeatherRows, day, f"day {k}") for k, day in enumerate(form.days, 1)]
    for k, rows in enumerate(days, 1):
        if _is_long(rows):
            raise _Refused(f"day {k}: {_too_long(len(rows.seconds))}")
    held = {rows.name: rows for rows in days}
    requests = tuple(_request(request, k, held) for k, request in enumerate(form.requests, 1))
    if any(isinstance(request, Stop) != (form.kind == TRIP) for request in requests):
        raise _Refused("stops belong to the chart of a trip, and nothing else does.")
    _check_work(rigs, requests)
    return ChartRecipe(
        kind=form.kind,
        rigs=rigs,
        requests=requests,
        options=form.options,
        numbers=form.numbers,
        versions=form.versions,
    )


def _check_counts(form: RecipeForm) -> None:
    """Refuse more of anything than a chart can show."""
    if form.form != FORM:
        raise _Refused(f"form is {form.form}; {FORM} makes sense.")
    if not form.rigs and not any("trial" in request for request in form.requests):
        raise _Refused("it holds no rig.")
    most = {
        "rigs": MOST_RIGS,
        "requests": MOST_REQUESTS,
        "days": MOST_DAYS,
        "options": MOST_OPTIONS,
        "numbers": MOST_NUMBERS,
        "versions": MOST_OPTIONS,
    }
    for what, limit in most.items():
        held = getattr(form, what)
        if len(held) > limit:
            raise _Refused(f"it holds {len(held)} {what}; up to {limit} make sense.")
        longest = max((len(key) for key in held), default=0) if isinstance(held, dict) else 0
        if longest > LONGEST_KEY:
            raise _Refused(f"a name in {what} has {longest} letters; up to {LONGEST_KEY} make sense.")


def _rigs(tables: Mapping[str, Mapping[str, Any]]) -> dict[str, Rig]:
    """Every rig, what it does not say taken from the first."""
    first = next(iter(tables.values()), {})
    for name in tables:
        if name != printable(name):
            raise _Refused(f"a rig is called {short(name)!r}, with a letter that breaks its line or steers a screen.")
    rigs = {name: _described(Rig, {**first, **table}, f"rig {short(name)}") for name, table in tables.items()}
    for name, rig in rigs.items():
        if len(rig.panels) > MOST_PANELS:
            raise _Refused(f"rig {short(name)} has {len(rig.panels)} panels; up to {MOST_PANELS} make sense.")
    labels = len({panel for rig in rigs.values() for panel in rig.panels})
    if labels > MOST_LABELS:
        raise _Refused(f"it holds {labels} unlike panels; up to {MOST_LABELS} make sense.")
    return rigs


def _request(table: Mapping[str, Any], number: int, held: Mapping[str, WeatherRows]) -> Asked:
    """One request; its weather is in the recipe, made up or known by name."""
    words = " or ".join(REQUESTS)
    if len(table) != 1 or next(iter(table)) not in REQUESTS:
        raise _Refused(f"request {number} is none; it is a {words}.")
    word, fields = next(iter(table.items()))
    request = _described(REQUESTS[word], fields, f"request {number}")
    if isinstance(request, TrialRows):
        return request
    if isinstance(request, Stop):
        return replace(request, weather=str(_weather(request.weather, {})))
    if len(request.shade) > MOST_NOTES:
        raise _Refused(f"request {number} has {len(request.shade)} notes of shade; up to {MOST_NOTES} make sense.")
    if isinstance(request, Days):
        return replace(request, weather=_weather(request.weather, held))
    return request


def _weather(weather: Weather, held: Mapping[str, WeatherRows]) -> Weather:
    """The weather of a request, with its rows out of the recipe; one that would be read from a file is refused."""
    if isinstance(weather, str) and weather in held:
        return held[weather]
    if not _is_file(weather):
        return weather
    told = short(weather.path if isinstance(weather, WeatherLog) else str(weather))
    known = ", ".join((*TYPICAL_YEARS, *MEASURED))
    raise _Refused(
        f"weather is {told!r}; it is {known}, a sky made up, or rows in the recipe itself. No file is opened."
    )


def _check_work(rigs: Mapping[str, Rig], requests: Sequence[Asked]) -> None:
    """Refuse what would take minutes or much memory, or a picture of many metres."""
    rows = len(rigs) * len(requests)
    if rows > MOST_RIGS:
        raise _Refused(f"{len(rigs)} rigs in {len(requests)} lights are {rows} rows; a picture has up to {MOST_RIGS}.")
    asked = [(moments_of(request), request) for request in requests if not isinstance(request, TrialRows)]
    pairs = [(moments, rig, request) for moments, request in asked for rig in rigs.values()]
    cells = max((moments * _cells(rig) for moments, rig, _ in pairs), default=0)
    if cells > MOST_CELLS:
        raise _Refused(
            f"requests hold {cells / 1e6:.1f} million cells x moments; up to {MOST_CELLS / 1e6:g} million make sense. "
            "Ask for fewer days, or longer steps."
        )
    booked = sum(moments for moments, _, _ in pairs)
    if booked > MOST_BOOKED:
        raise _Refused(
            f"requests and rigs are {booked} moments x rigs; up to {MOST_BOOKED} make sense. "
            "Ask for fewer days or wirings, or longer steps."
        )
    work = sum(moments * curves_in(rig, request) for moments, rig, request in pairs)
    roofs = {(rig.panels, rig.roof): rig for rig in rigs.values()}.values()
    work += sum(moments * _shadows(rig) for moments, r in asked if not isinstance(r, Snapshot) for rig in roofs)
    if work > MOST_WORK:
        raise _Refused(
            f"requests and rigs need {work / 1e6:.1f} million curves of cells, which would take minutes; up to "
            f"{MOST_WORK / 1e6:g} million make sense. Ask for fewer days, wirings, notes of shade or fixtures."
        )


def _cells(rig: Rig) -> int:
    """Cells of all panels."""
    return sum(panel.cells_in_series * panel.branches for panel in rig.panels)


def _shadows(rig: Rig) -> int:
    """What the shadows of a roof's fixtures take in one moment, in curves of cells that take as long."""
    return 0 if rig.roof is None else _cells(rig) * len(rig.roof.fixtures) ** 2 // SHADOWS


def curves_in(rig: Rig, request: Request | Stop) -> int:
    """Curves of cells that one moment may take: those in unlike light, in every group under a bypass diode."""
    under = not isinstance(request, Snapshot) and rig.roof is not None and bool(rig.roof.fixtures)
    notes = Counter(note.panel for note in (() if isinstance(request, Stop) else request.shade))
    curves = 0
    for number, panel in enumerate(rig.panels):
        most = panel.cells_in_series * panel.branches // panel.substrings
        curves += panel.substrings * (most if under else min(most, 1 + notes[number]))
    return curves


def moments_of(request: Asked) -> int:
    """How many moments a request stands for, without reading its weather."""
    if isinstance(request, Stop):
        return HOURS_OF_DAY * TRIP_WALKS * len(dates_of((request,))[0])
    if isinstance(request, Parked) and request.hour is None:
        return round(MINUTES_OF_DAY / request.step_min)
    if not isinstance(request, Days):
        return 1
    weather = request.weather
    if isinstance(weather, WeatherRows):
        return round(len(weather.seconds) * max(1.0, 60 * weather.step_h / (request.step_min or 60 * weather.step_h)))
    fewest = MINUTES_OF_DAY / weather.step_min if isinstance(weather, MadeSky) else HOURS_OF_DAY
    measured = isinstance(weather, str) and weather.startswith(tuple(MEASURED))
    fewest = MINUTES_OF_DAY if measured else fewest
    a_day = max(fewest, MINUTES_OF_DAY / request.step_min if request.step_min else 0.0)
    many = request.day.startswith("all") or ".." in request.day
    return round(a_day * ((MOST_MEASURED if measured else DAYS_OF_YEAR) if many else 1))


def _described(kind: type[T], table: Any, place: str) -> T:
    """The description in a table."""
    made, misfits = read(kind, table)
    if made is not None:
        return made
    where = ", ".join([*([place] if place else []), *(short(str(part)) for part in misfits[0].at)])
    raise _Refused(f"{where}: {_told(misfits[0])}" if where else _told(misfits[0]))


def _told(misfit: Misfit) -> str:
    """One problem of a recipe in plain words."""
    if misfit.wanted == REFUSED:
        return plain(misfit.said)
    if misfit.wanted == UNKNOWN_KEY:
        return "this key is not known here. Was it made by a newer kit?"
    if misfit.wanted == MISSING_KEY:
        return "it is missing."
    if not misfit.at:
        return "it is no recipe."
    return f"{short(json.dumps(misfit.value, default=str))} makes no sense here."
