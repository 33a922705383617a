"""How numbers are printed: only digits that are known, one rounding for one number, and what counts as equal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

DIGITS = 4
# of watt-hours in a table; the models are known to a hundredth at best, and a digit is left for comparing; no source
TENTHS_UNDER = 100.0
# [W or Wh] amounts below are told to a tenth, so that near ones can be told apart; no source
NEXT_TO_NOTHING, MANY_TIMES = 0.005, 3.0
# share of the best called next to nothing; how many times another's from which a gain is told in times; no source
MUCH_WH = 10_000
# [Wh] from which energy is told in kWh
TOO_LITTLE = 0.5
# [W or Wh] below which wirings are not compared; no source
SHOWN_WH = 0.05
# [Wh] below which a step is left out of a table
ALIKE = 0.03
# share within which two wirings are called alike; common practice, no source


def known(amount: float) -> str:
    """Watts or watt-hours as a text, with the digits that are known: tenths below 100, none that pretend to more.

    Examples
    --------
    >>> known(22.36), known(387.46), known(446084.5), known(-0.04)
    ('22.4', '387', '446100', '0')
    """
    return f"{_rounded(amount, _place(amount)):.{max(_place(amount), 0)}f}" if round(amount, 1) else "0"


def known_in(amount: float, unit: str) -> str:
    """The same with its unit, in kWh for many watt-hours.

    Examples
    --------
    >>> known_in(43.26, "W"), known_in(840.4, "Wh"), known_in(12_340, "Wh")
    ('43.3 W', '840 Wh', '12.3 kWh')
    """
    return f"{known(amount / 1000)} k{unit}" if unit == "Wh" and amount >= MUCH_WH else f"{known(amount)} {unit}"


def watt_hours(amount: float) -> str:
    """Energy in Wh as a sentence says it, in kWh where there is much.

    Examples
    --------
    >>> watt_hours(840.4), watt_hours(312_400)
    ('840 Wh', '312 kWh')
    """
    return known_in(amount, "Wh")


def span_in(least: float, most: float, unit: str) -> str:
    """Two ends with their unit, which is said once where it is the same.

    Examples
    --------
    >>> span_in(38.7, 61.3, "Wh"), span_in(14_120, 17_960, "Wh"), span_in(8_000, 12_000, "Wh")
    ('38.7 to 61.3 Wh', '14.1 to 18.0 kWh', '8000 Wh to 12.0 kWh')
    """
    low, high = known_in(least, unit), known_in(most, unit)
    said = [end for end in (f" {unit}", f" k{unit}") if low.endswith(end) and high.endswith(end)]
    return f"{low.removesuffix(said[0]) if said else low} to {high}"


def amounts_in(amounts: Mapping[str, str], span: str = "") -> str:
    """Amounts and what has them, each amount once; `span` says after the first what all are counted over.

    Examples
    --------
    >>> amounts_in({"3p": "41.7 W", "3s": "41.6 W"}), amounts_in({"2s": "0.6 Wh", "2p": "0.6 Wh"}, " of the day")
    ('41.7 W in 3p, 41.6 W in 3s', '0.6 Wh of the day in 2s and 2p')
    """
    told: dict[str, list[str]] = {}
    for name, amount in amounts.items():
        told.setdefault(amount, []).append(name)
    first, *others = [(amount, joined(names)) for amount, names in told.items()]
    return ", ".join([f"{first[0]}{span} in {first[1]}", *(f"{amount} in {names}" for amount, names in others)])


def joined(names: Sequence[str]) -> str:
    """Names as a sentence lists them.

    Examples
    --------
    >>> joined(["2s"]), joined(["2s", "2p"]), joined(["4s", "2s2p", "4p"])
    ('2s', '2s and 2p', '4s, 2s2p and 4p')
    """
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last


def apart(more: float, less: float) -> str:
    """Difference of two amounts as both are printed, no finer than the coarser of them.

    Examples
    --------
    >>> known(387.46), known(365.58), apart(387.46, 365.58)
    ('387', '366', '21')
    >>> known(22.36), known(20.14), apart(22.36, 20.14)
    ('22.4', '20.1', '2.3')
    """
    place = min(_place(more), _place(less))
    between = _rounded(float(known(more)) - float(known(less)), place)
    return f"{between:.{max(place, 0)}f}" if between else "0"


def difference(more: float, less: float, unit: str) -> str:
    """The same with its unit.

    Examples
    --------
    >>> difference(387.46, 365.58, "W"), difference(52_340, 30_130, "Wh")
    ('21 W', '22.2 kWh')
    """
    between = apart(more, less)
    return known_in(float(between), unit) if unit == "Wh" and float(between) >= MUCH_WH else f"{between} {unit}"


def more_than(most: float, other: float, name: str, unit: str = "Wh") -> str:
    """How much more the best delivers than another, where the other may deliver nothing; what follows a comma.

    Parameters
    ----------
    most, other : float
        What both deliver, neither below zero. [unit]
    name : str
        The other.

    Examples
    --------
    >>> more_than(412, 380, "2p"), more_than(412, 100, "2p")
    ('8 % more than 2p', '4.1 times as much as 2p')
    >>> more_than(412, 0, "2p"), more_than(0, 0, "2p")
    ('against 0 Wh from 2p', 'and neither does 2p')
    """
    if not round(most, 1):
        return f"and neither does {name}"
    if other < NEXT_TO_NOTHING * most or not round(other, 1):
        return f"against {known_in(other, unit)} from {name}"
    if most >= MANY_TIMES * other:
        return f"{known(most / other)} times as much as {name}"
    return f"{100 * (most / other - 1):.0f} % more than {name}"


def share_of(part: float, whole: float) -> str:
    """A share in whole percent; a dash where there is nothing to be a share of.

    Examples
    --------
    >>> share_of(30.0, 120.0), share_of(0.0, 0.0)
    ('25 %', '-')
    """
    return f"{100 * part / whole:.0f} %" if round(whole, 1) else "-"


def between(low: float, high: float) -> str:
    """From where to where a change lies, in words.

    Examples
    --------
    >>> between(-0.031, 0.158)
    'from a loss of 3.1 % to a gain of 15.8 %'
    >>> between(0.02, 0.031)
    'from a gain of 2.0 % to a gain of 3.1 %'
    """
    ends = (f"a {'loss' if end < 0 else 'gain'} of {100 * abs(end):.1f} %" for end in (low, high))
    return "from {} to {}".format(*ends)


def gained(share: float) -> str:
    """A gain or a loss in percent, with its sign; what rounds to nothing has none.

    Examples
    --------
    >>> gained(0.021), gained(-0.2), gained(-0.0004)
    ('+2.1 %', '−20.0 %', '0.0 %')
    """
    said = f"{100 * share:+.1f}".replace("-", "\N{MINUS SIGN}")
    return f"{'0.0' if said[1:] == '0.0' else said} %"


def _place(amount: float) -> int:
    """Behind which decimal an amount is rounded; negative in front of the point."""
    size = abs(amount)
    return 1 if round(size, 1) < TENTHS_UNDER else min(0, DIGITS - len(f"{size:.0f}"))


def _rounded(amount: float, place: int) -> float:
    """Rounded once; nothing has no sign."""
    return round(amount, place) + 0.0
