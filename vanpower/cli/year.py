"""`vanpower year`: a year with battery and loads, month by month."""

from __future__ import annotations

import argparse

from vanpower.cli.options import HEADING, as_typed, bar, turned, weather_of
from vanpower.cli.runs import add_words, finish, rigs_of
from vanpower.rig import Days, MadeSky, Weather
from vanpower.rig import shade as shade_notes

UNBROKEN = 0.8
# share of the days from first to last that a log must hold for its months to be spoken of; no source


def add(commands: argparse._SubParsersAction) -> None:
    """The words of `vanpower year`."""
    about = "a year with battery and loads, month by month"
    command = add_words(commands, "year", about, "[--weather NAME] [options]")
    command.add_argument("--weeks", action="store_true", help="also which weeks of the year carry the loads")
    command.set_defaults(run=run)


def run(asked: argparse.Namespace) -> int:
    """Print the verdict, the wirings, the best one's months and the ladder of a year."""
    from vanpower.simulation.budget import weeks_said
    from vanpower.simulation.run import simulate

    shade = shade_notes(*asked.shade)
    with as_typed(HEADING):
        request = Days(weather=_year_of(asked.weather or "sand-point"), day="all", shade=shade, **turned(asked.heading))
    rigs, short = rigs_of(asked), _no_year(request)
    answer = simulate(rigs, request, progress=bar("days"))
    print(short, end="\n" * bool(short))
    best = answer.ranking[0]
    months = f"{best}, month by month\n{answer.budget(best).text()}"
    weeks = [f"{best}, week by week\n{weeks_said(answer.weeks(best))}"] if asked.weeks else []
    return finish(asked, answer, [answer.text(), months, *weeks, answer.ladder().text()], "days")


def _year_of(text: str) -> Weather:
    """A weather that has a year; a made sky has one date."""
    weather = weather_of(text)
    if isinstance(weather, MadeSky):
        raise ValueError(f"a made sky is that of one date; try: vanpower day RIG.toml --weather {text} --day 06-21")
    return weather


def _no_year(request: Days) -> str:
    """Say of a weather that it holds less than a year, and refuse one whose days lie scattered over months."""
    from vanpower.weather.days import day_of

    day = day_of(request)
    if not day.lacks:
        return ""
    dates = day.table.index.date
    span = (dates[-1] - dates[0]).days + 1
    if day.days < UNBROKEN * span:
        raise ValueError(
            f"{day.place} holds {day.lacks}, scattered over {span} days, and that is no year. Walk through them as "
            f"they are: vanpower day RIG.toml --weather {request.weather} --day all"
        )
    return f"MIND: {day.place} holds {day.lacks}. That is no year, and nothing is said of the rest.\n"
