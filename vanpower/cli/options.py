"""Words that several commands understand: a rig, its wirings, a light, a shade note, a file to draw into."""

from __future__ import annotations

import argparse
import difflib
import os
import re
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NoReturn

from vanpower.rig import (
    LONGEST_QUOTE,
    SKIES,
    Days,
    MadeSky,
    Parked,
    Place,
    Request,
    Rig,
    Shade,
    Snapshot,
    Weather,
    printable,
)
from vanpower.rig import shade as shade_notes

ALL_YES, NO_OR_CLOSE, BAD_INPUT, INTERRUPTED = 0, 1, 2, 130
# exit codes
SHADE_MORE = """\
shade notes:
  P2=0.2        panel 2 gets 20 % of the light
  P2.1=0.2      only its first group of cells under one bypass diode (of a half-cut panel, in both halves)
  P2/1=0.2      only one half of a half-cut panel, P2.1/1=0.2 one half of its first group
  P2.1x3=0.2    only three cells of that group; of a half-cut panel in each half, or in one with P2.1/1x3=0.2
"""
WEATHER_FILES = (".csv", ".epw", ".json", ".tm2", ".txt")
# endings of what is taken for a weather file before it is looked for
BELOW_ZERO = re.compile(r"-\.?\d")
# how a word begins that is a value below zero and no option, whatever follows, such as -10,5 or -10F or -.5
DASHES = ("\N{MINUS SIGN}", "\N{EN DASH}", "\N{EM DASH}")
# signs that programs put in place of a minus sign that was typed
UNIT_BEHIND = re.compile(r"\s*([-+]?\d+(?:\.\d+)?)\s*(°?\s*F|[^\d\s.,][^\d]*)\s*", re.IGNORECASE)
# a number with its unit, which the option has already
TAKES_IT = {".toml": "check", ".csv": "trial", ".png": "remake", ".svg": "remake", ".html": "remake"}
# which command to propose where a file stands in its place
HEADING = {"Days.heading_deg": "--heading"}
# what an error says of a way the van cannot stand
BRIGHTEST = 1500.0
# [W/m²] a clear sky never gives more
DRAWS = 16
# of what is not known, for how sure an answer is; few, so that it is told within seconds
MADE_FIELDS = {
    "latitude": "latitude_deg", "longitude": "longitude_deg", "altitude": "altitude_m", "clock": "time_zone",
    "clearness": "clearness", "seed": "seed", "hours": "hours", "peak": "peak", "temp": "temp_air",
    "wind": "wind_speed", "turbidity": "turbidity", "step": "step_min",
}  # fmt: skip
# what a made sky is told, as typed and as its fields are called
OF_PLACE = ("latitude_deg", "longitude_deg", "altitude_m", "time_zone")
MADE_MORE = """\
made skies, as --weather with a date as --day:
  half-sine:peak=1000,hours=12                        light alone over a flat panel, the textbook day
  clear:latitude=47,longitude=8,clock=Europe/Zurich   also overcast (clearness=0.2) and broken (seed=1, step=1)
  more behind each: altitude (m), temp (°C), wind (m/s), turbidity (2 clean to 7 hazy), step (minutes)
"""


class Parser(argparse.ArgumentParser):
    """Reads words, and tells a slip in one line."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._negative_number_matcher = BELOW_ZERO
        self.typed: list[str] = []
        self.commands: dict[str, Parser] = {}

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> Any:
        """Read the words, and keep them for what may have to be said of one."""
        self.typed = list(sys.argv[1:] if args is None else args)
        return super().parse_known_args(args, namespace)

    def look_at(self, words: Sequence[str]) -> None:
        """Stop where a word, such as a file's name that somebody sent, would break a line or steer the screen."""
        for word in words:
            shown = printable(word)
            if word.encode(errors="replace").decode() != shown:
                what = "holds a line break, or a letter that steers a screen or cannot be seen"
                self.exit(BAD_INPUT, f"vanpower: {shown[:LONGEST_QUOTE]!r} {what}; give the file a plain name first.\n")

    def unknown(self, words: Sequence[str]) -> NoReturn:
        """Say which words are not known here and what may have been meant, and stop."""
        near = difflib.get_close_matches(words[0], self._option_string_actions, 1)
        guess = f"; did you mean {near[0]}?" if near else ""
        if Path(words[0]).suffix.lower() in TAKES_IT and not words[0].startswith("-"):
            guess = "; a command takes one file of a kind, and a name with blanks goes in quotes;"
        said = f"{' '.join(words)[:LONGEST_QUOTE]!r} is not known here{guess or ';'}"
        self.exit(BAD_INPUT, f"vanpower: {said} {self.prog} --help shows the words.\n")

    def error(self, message: str) -> NoReturn:
        """Say what was wrong and what is there, and stop."""
        short = re.fullmatch(r"argument (--[\w-]+): expected .*", message)
        told = self._valueless(short[1]) if short else _plainly(message)
        self.exit(BAD_INPUT, f"vanpower: {told}; {self.prog} --help shows the words.\n")

    def _valueless(self, option: str) -> str:
        """What to say of an option without its value, and of the word that stands in its place."""
        action = self._option_string_actions[option]
        wanted = action.metavar or " or ".join(action.choices or ["a word"])
        needs = f"{option} needs its value ({wanted if isinstance(wanted, str) else ' '.join(wanted)})"
        place = next((k for k, word in enumerate(self.typed) if len(word) > 2 and option.startswith(word)), None)
        behind = "" if place is None else " ".join(self.typed[place + 1 : place + 2])
        return f"{needs}, and {behind[:LONGEST_QUOTE]!r} is none" if behind.startswith("-") else needs


def _plainly(message: str) -> str:
    """What the reader of words says, as a person would."""
    unknown = re.fullmatch(r"argument : invalid choice: '(.*)' \(choose from (.*)\)", message)
    if unknown and (proposed := TAKES_IT.get(Path(unknown[1]).suffix.lower())):
        return f"{unknown[1][:LONGEST_QUOTE]!r} is a file and no command; put one before it, such as {proposed}"
    if unknown:
        known = re.findall(r"[\w-]+", unknown[2])
        near = difflib.get_close_matches(unknown[1], known, 1)
        guess = f", did you mean {near[0]}? There" if near else "; there"
        return f"{unknown[1][:LONGEST_QUOTE]!r} is no command{guess} are {', '.join(known)}"
    choice = re.fullmatch(r"argument (--\S+): invalid choice: (.*) \(choose from (.*)\)", message)
    if choice:
        listed = ", ".join(re.findall(r"[\w-]+", choice[3]))
        return f"{choice[1]} is {choice[2][:LONGEST_QUOTE]}; there are {listed}"
    missing = re.fullmatch(r"the following arguments are required: (.*)", message)
    if missing:
        return f"{missing[1]} is missing"
    whole = re.fullmatch(r"argument (\S+): invalid int value: (.*)", message)
    if whole:
        return f"{whole[1]} is {whole[2][:LONGEST_QUOTE]}; a whole number makes sense"
    return re.sub(r"^argument ", "", message).replace("expected ", "it needs ")


FORM = argparse.RawDescriptionHelpFormatter
# help texts keep their lines
RIG_HELP = "a rig file, my-van, or the name of an example such as bookmobile"


def number(text: str) -> float:
    """A number, with a word on decimal commas, units and Fahrenheit."""
    try:
        return float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number{_slip_in(text)}") from None


def _slip_in(text: str) -> str:
    """The likely slip in what should be a number."""
    found = UNIT_BEHIND.fullmatch(text)
    if found and found[2].upper().lstrip("° ") == "F":
        return f" of °C; {found[1]} °F are {(float(found[1]) - 32) / 1.8:.1f} °C"
    if found:
        return "; write the number alone, in the unit that --help names"
    clock = re.fullmatch(r"\s*(\d{1,2}):([0-5]\d)\s*(?:h)?", text)
    if clock:
        return f"; hours are written with a point, {int(clock[1]) + int(clock[2]) / 60:.4g}"
    if text.lstrip().startswith(DASHES):
        return "; write the minus sign of the keyboard, -"
    return "; write it with a point" if "," in text else ""


def rig_from(text: str) -> Rig:
    """The rig from a file, one's own, or an example by name."""
    from vanpower.files.examples import examples
    from vanpower.files.my_van import MY_VAN
    from vanpower.files.rig_files import example, read_rig

    if text == MY_VAN:
        return _my_van()
    beside = Path(f"{text}.toml")
    if Path(text).suffix.lower() == ".csv":
        raise ValueError(f"{text} is a table; a rig is a .toml file. Is it a log? Then: vanpower trial {text}.")
    if text not in examples() and not Path(text).exists() and beside.exists():
        raise ValueError(f"There is no file {text}; did you mean {beside}?")
    return read_rig(text) if Path(text).exists() or "." in text or os.sep in text else example(text)


def _my_van() -> Rig:
    """One's own van, as form and pages have it."""
    from vanpower.files.my_van import my_van_path, read_my_van

    rig = read_my_van()
    if rig is None:
        how = "fill in the page My van, or write one with: vanpower rig bookmobile --out my-van.toml"
        raise ValueError(f"There is no file {my_van_path()} yet; {how}")
    return rig


def wired(rig: Rig, wirings: Sequence[str], shade: Sequence[Shade] = ()) -> dict[str, Rig]:
    """The rig as it stands, in the wirings named, or in all of them."""
    if not wirings:
        return {rig.wiring_name: rig}
    if "all" in wirings:
        return rig.wirings(shade=shade)
    made = [rig.wired(wiring) for wiring in wirings]
    plain = [re.fullmatch(r"[\dsp ]+", text, re.IGNORECASE) for text in wirings]
    return {
        text if short else one.circuits[0].wiring.grouping: one
        for text, short, one in zip(wirings, plain, made, strict=True)
    }


def circuit_word(parser: argparse.ArgumentParser) -> None:
    """The word that says whose wirings are meant."""
    parser.add_argument("--circuit", type=int, default=1, metavar="N", help="whose wirings, of several controllers (1)")


def circuit_first(rig: Rig, number: int) -> Rig:
    """The rig with the controller whose wirings are asked for told first; counted from 1, as typed."""
    if not 1 <= number <= len(rig.circuits):
        has = "one controller" if len(rig.circuits) == 1 else f"{len(rig.circuits)} controllers"
        raise ValueError(f"--circuit is {number}; {rig.name} has {has}, counted from 1.")
    return rig.circuit_first(number - 1)


def meant_first(rig: Rig, number: int | None, meant: str = "was measured") -> Rig:
    """The rig with the controller that is meant told first; of several it has to be named, since each has its own."""
    if number is None and len(rig.circuits) > 1:
        raise ValueError(f"--circuit is missing; say which controller {meant}: {rig.circuits_told}.")
    return circuit_first(rig, 1 if number is None else number)


def requests_of(asked: argparse.Namespace) -> list[Request]:
    """What was asked: one moment, or days."""
    shade = shade_notes(*asked.shade)
    if asked.day and (asked.light is not None or asked.temp is not None):
        raise ValueError("--day brings its own light and heat; leave out --light and --temp.")
    if asked.weather and not asked.day:
        raise ValueError("--weather says where days are taken from; add --day dull, or leave it out.")
    if asked.heading is not None and not asked.day:
        raise ValueError("--heading turns the van under a day's sun; add --day dull, or leave it out.")
    if not asked.day:
        light = 800.0 if asked.light is None else asked.light
        return [moment(light, 25.0 if asked.temp is None else asked.temp, shade)]
    with as_typed(HEADING):
        return [outlook(day, asked.weather, shade, **turned(asked.heading)) for day in asked.day]


def turned(heading: float | None) -> dict[str, float]:
    """How the van stands, as a request has it; as it is described where nothing was said."""
    return {} if heading is None else {"heading_deg": heading}


def moment(light: float, temp: float, shade: tuple[Shade, ...]) -> Snapshot:
    """One moment; what is wrong with it is told by the words that were typed."""
    with as_typed({"Snapshot.light": "--light", "Snapshot.temp_cell": "--temp"}):
        return Snapshot(light=light, temp_cell=temp, shade=shade)


@contextmanager
def as_typed(words: Mapping[str, str]) -> Iterator[None]:
    """What is wrong inside is told by the words that were typed, not by names of fields."""
    try:
        yield
    except ValueError as trouble:
        told = str(trouble)
        for field, word in words.items():
            told = told.replace(field, word)
        raise ValueError(told) from None


def weather_of(text: str) -> Weather:
    """A weather as typed: a name or a file, or a sky made up, such as broken:latitude=47,longitude=8,seed=3."""
    kind, _, told = text.partition(":")
    if kind not in SKIES or Path(text).exists():
        return text
    given: dict[str, Any] = {}
    for pair in filter(None, told.split(",")):
        word, equals, value = pair.partition("=")
        if word.strip() not in MADE_FIELDS or not equals:
            begun = [known for known in MADE_FIELDS if word.strip() and known.startswith(word.strip())]
            near = begun or difflib.get_close_matches(word.strip(), MADE_FIELDS, 1)
            hint = f"; did you mean {near[0]}?" if near else f"; there are {', '.join(MADE_FIELDS)}."
            raise ValueError(f"--weather {kind}: {pair[:LONGEST_QUOTE]!r} is none of its words{hint}")
        if MADE_FIELDS[word.strip()] in given:
            raise ValueError(f"--weather {kind}: {word.strip()} is given twice; once is enough.")
        given[MADE_FIELDS[word.strip()]] = value.strip() if word.strip() == "clock" else _made_number(word, value)
    place = {field: given.pop(field) for field in OF_PLACE if field in given}
    with as_typed({field: f"--weather {kind}: {word}" for word, field in _made_names()}):
        if not place and kind != "half-sine":
            raise ValueError(f"a {kind} sky needs to know where: --weather {kind}:latitude=47,longitude=8")
        if place and not {"latitude_deg", "longitude_deg"} <= set(place):
            raise ValueError(f"--weather {kind}: a place has both latitude and longitude.")
        return MadeSky(kind=kind, place=Place(**place) if place else None, **given)


def _made_names() -> list[tuple[str, str]]:
    """Words of a made sky and the fields as errors name them."""
    return [(w, f"{'Place' if field in OF_PLACE else 'MadeSky'}.{field}") for w, field in MADE_FIELDS.items()]


def _made_number(word: str, value: str) -> float | int:
    """A number of a made sky; clouds are counted."""
    try:
        return int(value) if word.strip() == "seed" else float(value)
    except ValueError:
        raise ValueError(f"--weather: {word.strip()} is {value[:LONGEST_QUOTE]!r}; write a number.") from None


def outlook(day: str, weather: str | None, shade: tuple[Shade, ...], **stands: float) -> Days:
    """A day by name or date out of the weather, or a file of one day."""
    from vanpower.weather.days import SeveralDays, day_slip, find_day, is_day
    from vanpower.weather.measured import MEASURED

    if is_day(day):
        return Days(weather=weather_of(weather or "sand-point"), day=day, shade=shade, **stands)
    measured = day.partition("-")[0] in MEASURED
    if not measured and Path(day).suffix.lower() not in WEATHER_FILES and not Path(day).exists():
        raise ValueError(
            day_slip(day)
            or f"day {day!r} is not one; write dull, median, bright, month-day such as 12-21, a month's as 'dullest "
            "december', or a weather file of one day such as log.csv."
        )
    try:
        find_day(day, "only")
    except SeveralDays as many:
        raise ValueError(f"{day}: {many} Write: --weather {day} --day median") from None
    return Days(weather=day, day="only", shade=shade, **stands)


def panel_number(text: str, rig: Rig, word: str) -> int:
    """Which panel of the rig a word such as P2 or 2 names, counted from 0."""
    found = re.fullmatch(r"P?([1-9]\d{0,2})", text.strip(), re.IGNORECASE)
    if not found or int(found[1]) > len(rig.panels):
        raise ValueError(f"{word} is {text[:LONGEST_QUOTE]!r}; the rig has P1 to P{len(rig.panels)}.")
    return int(found[1]) - 1


def sky_there(
    clock: Sequence[str], rig: Rig, panels: Sequence[int] = (), sky: str | None = None
) -> tuple[float, float, float]:
    """Light and heat of a rig's panels under a sky called by a word, and by how much that light may be off in percent.

    Parameters
    ----------
    clock : sequence of str
        Latitude, month-day and hour of the sun, as typed.
    panels : sequence of int
        Which panels, counted from 0; all where none is named.
    sky : str, optional
        One of `weather.light_words.SKIES`; clear where it is not given.
    """
    from vanpower.model.conditions import conditions_of
    from vanpower.weather.light_words import SKIES, cloud_lets
    from vanpower.weather.parked import OVERCAST

    word = "clear" if sky is None else sky.lower()
    if word not in SKIES:
        near = difflib.get_close_matches(word, SKIES, 1)
        guess = f"did you mean {near[0]}?" if near else f"{', '.join(SKIES)} make sense."
        raise ValueError(f"--sky is {sky[:LONGEST_QUOTE] if sky else sky!r}; {guess}")
    eighths, within = SKIES[word]
    clearness = (cloud_lets(eighths) - OVERCAST) / (1.0 - OVERCAST)

    try:
        latitude, hour = float(clock[0]), float(clock[2])
    except ValueError:
        raise ValueError(
            f"--clock is {' '.join(clock)[:LONGEST_QUOTE]!r}; latitude, month-day and hour of the sun make sense, such "
            "as 47 06-21 13."
        ) from None
    words = {"Parked.latitude_deg": "--clock latitude", "Parked.day": "--clock date", "Parked.hour": "--clock hour"}
    with as_typed(words):
        asked = Parked(latitude_deg=latitude, day=clock[1], hour=hour, clearness=clearness)
    used = tuple(rig.panels[panel] for panel in panels) or rig.panels
    there = conditions_of(used, asked)
    return min(float(there.brightest[0]), BRIGHTEST), float(there.temp_cell[0].max()), within


def to_put_right(mends: Sequence[str]) -> list[str]:
    """What has to be mended before an answer about watts is followed, as one paragraph; none where nothing has."""
    from vanpower.results.verdict import LINE, hung

    said = "\n".join(hung("- ", one, LINE) for one in mends)
    return [f"Caution, to be put right first:\n{said}"] if said else []


def bar(what: str, total: int | None = None) -> Callable[[Iterable[Any]], Iterable[Any]]:
    """What shows on a terminal how far long work of so many parts is; nothing where nobody watches."""

    def watched(each: Iterable[Any]) -> Iterable[Any]:
        from tqdm.auto import tqdm

        unseen = sys.stderr is None or not sys.stderr.isatty()
        shown: Iterable[Any] = tqdm(each, desc=what, total=total, leave=False, disable=unseen)
        return shown

    return watched
