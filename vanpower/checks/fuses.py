"""Fuses in the strings: needed or not, which sizes are legal, and what current can flow backwards without them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from vanpower.checks.backfeed import (
    OPENING,
    TESTED,
    back_current,
    battery_push,
    feeds_back,
    label_limits,
    must_stay_apart,
    opens,
    passed,
)
from vanpower.checks.circulating import APART
from vanpower.checks.common import INPUT_FACTOR, named, rounded_up
from vanpower.results.verdict import Answer, Verdict
from vanpower.rig import Circuit, Rig

FUSES = (
    1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 16, 20, 25, 30, 32, 35, 40, 45, 50, 60, 63, 70, 80, 90, 100, 110, 125, 150, 175,
    200, 225, 250, 300, 350, 400,
)  # fmt: skip
# [A] ratings made; US National Electrical Code 2017, Table 240.6(A), from 15 A up; common practice, no source, for
# those below and for 16, 32 and 63 A
FUSE_LEAST, FUSE_MOST = 1.5, 2.4
# a string's fuse lies strictly between so many times its short-circuit amps; IEC 62548 (ABNT NBR 16690, SS 638);
# 1.4 times are for air up to 45 °C at the fuse (IEC 60269-6 annex BB, as two fuse makers quote it), so it stays out of
# the sun
US_FUSE_LEAST = INPUT_FACTOR * 1.25
# the same after US National Electrical Code 2017, 690.8(A)(1) and 690.9(B)(1); its note prints 156 percent
ROUNDING = 1e-9
# [A] rounding of a sum of amps that just meets a limit


def legal_fuses(i_sc: float, i_max_fuse: float, rule_book: str = "IEC", *, shared_by: int = 1) -> tuple[float, ...]:
    """Legal fuse ratings for one string, or for strings that share a fuse; empty where there are none. [A]

    Parameters
    ----------
    i_sc, i_max_fuse : float
        Of the label: short-circuit amps, and largest series fuse. [A]
    rule_book : str
        "IEC": strictly between 1.5 and 2.4 times, not above the label. "US": the first size from 1.5625 times up.
    shared_by : int
        Strings behind one fuse; then it leaves room for the amps of the others below the label.

    Examples
    --------
    >>> legal_fuses(9.45, 15.0), legal_fuses(10.0, 15.0), legal_fuses(11.2, 30.0, "US")
    ((15,), (), (20,))
    """
    least, most = fuse_window(i_sc, i_max_fuse, rule_book, shared_by=shared_by)
    if rule_book == "US":
        first = next((size for size in FUSES if size >= least - ROUNDING), math.inf)
        return (first,) if first <= most + ROUNDING else ()
    if shared_by > 1:
        return tuple(size for size in FUSES if least < size < most)
    return tuple(size for size in FUSES if least < size < FUSE_MOST * i_sc and size <= i_max_fuse)


def fuse_window(i_sc: float, i_max_fuse: float, rule_book: str = "IEC", *, shared_by: int = 1) -> tuple[float, float]:
    """Lower and upper bound of a string's fuse. [A]

    Notes
    -----
    The other strings behind a shared fuse feed a faulted one past it, so their amps count below the label: IEC 62548
    for groups, and the sum of US code 690.8(D), fuse and 1.25 times the others, against 690.9(A), exception (2).

    Examples
    --------
    >>> fuse_window(6.0, 12.0), fuse_window(6.0, 12.0, "US")
    ((9.0, 12.0), (9.375, 12.0))
    """
    if rule_book == "US":
        return US_FUSE_LEAST * shared_by * i_sc, i_max_fuse - INPUT_FACTOR * (shared_by - 1) * i_sc
    if shared_by > 1:
        return FUSE_LEAST * shared_by * i_sc, i_max_fuse - (shared_by - 1) * i_sc
    return FUSE_LEAST * i_sc, min(FUSE_MOST * i_sc, i_max_fuse)


def fuse_needed(back: float, i_max_fuse: float, rule_book: str = "IEC", *, from_battery: float = 0.0) -> bool:
    """Whether a string needs a fuse; meeting the label's limit exactly needs none.

    Parameters
    ----------
    back, i_max_fuse : float
        Label amps of the other strings, and the label's largest fuse. [A]
    from_battery : float
        What the battery's own fuse lets back through the controller. [A]

    Examples
    --------
    >>> fuse_needed(2 * 10.0, 20.0), fuse_needed(3 * 10.0, 20.0), fuse_needed(0.0, 20.0, from_battery=30.0)
    (False, True, True)
    """
    counted = back * (INPUT_FACTOR if rule_book == "US" else 1.0)
    return counted + from_battery > i_max_fuse + ROUNDING


def fused_strings(rig: Rig, circuit: Circuit) -> tuple[int, ...]:
    """Strings that carry the fuse the file names: those that need one, or all where none needs it; counted from 0.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from vanpower import example
    >>> rig = example("seed-swap")
    >>> fused_strings(rig, replace(rig.circuits[0], i_fuse_string=8.0))  # P1 and P2; P3 stands what they push
    (0, 1)
    """
    if circuit.i_fuse_string is None:
        return ()
    return tuple(_needing(rig, circuit, rig.rule_book) or range(len(circuit.wiring.strings)))


def string_fuse(rig: Rig, circuit: Circuit) -> Verdict:
    """Does each string need a fuse against reverse current, and which ratings are legal?

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("seed-swap")
    >>> string_fuse(rig, rig.circuits[0]).answer
    'close'
    """
    answer, margin, sentence = _fused(rig, circuit)
    feeds, count = feeds_back(circuit.controller), len(circuit.wiring.strings)
    rules = {book: _need_words(rig, circuit, book) for book in ("IEC", "US")}
    other = "US" if rig.rule_book == "IEC" else "IEC"
    sources = "its own strings and the battery" if feeds else "its own strings"
    return Verdict(
        question=f"String fuse: is {named(rig, circuit)} guarded against {sources}?",
        answer=answer,
        margin=margin,
        unit="A",
        sentence=sentence,
        basis=f"{_RULES[rig.rule_book]}; by {other} rules: {rules[other]}",
        caution="A string fed backwards can burn. Photovoltaic fuses (gPV), of the cold volts; never open one under "
        "load."
        if answer != "yes" and (count > 1 or feeds)
        else "",
        stated=not any(map(math.isnan, label_limits(rig, circuit))),
    )


def can_be_fused(rig: Rig, circuit: Circuit) -> bool:
    """Whether there is a legal fuse for every string that needs one; another one then mends a wrong one.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("seed-swap")
    >>> can_be_fused(rig, rig.circuits[0])
    True
    """
    return all(_sizes(rig, circuit, _needing(rig, circuit, rig.rule_book), rig.rule_book))


def string_fuse_sizes(rig: Rig, circuit: Circuit) -> tuple[float | None, ...]:
    """Fuse that each string should have: the one fitted where it is legal, or the smallest that is. [A]

    Zero where none is needed, None where none is legal or none mends it, not a number where a label without its largest
    fuse leaves it open. One size for all strings where one suits all.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("seed-swap")
    >>> string_fuse_sizes(rig, rig.circuits[0])
    (8, 8, 0.0)
    """
    count, needing = len(circuit.wiring.strings), _needing(rig, circuit, rig.rule_book)
    if must_stay_apart(rig, circuit):
        return (None,) * count
    carry = needing or list(range(count)) * (circuit.i_fuse_string is not None)
    sizes = [
        size if k in carry else math.nan if math.isnan(limit) and _fed(rig, circuit, k) else 0.0
        for k, (limit, size) in enumerate(
            zip(label_limits(rig, circuit), _best_sizes(rig, circuit, carry), strict=True)
        )
    ]
    return tuple(sizes)


def fuse_to_fit(rig: Rig, circuit: Circuit) -> float | None:
    """The string fuse to write into a rig's file; None where none is needed, known or legal, or strings differ. [A]

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("seed-swap")
    >>> fuse_to_fit(rig, rig.circuits[0])
    8
    """
    sizes = {size for size in string_fuse_sizes(rig, circuit) if size != 0}
    size = sizes.pop() if len(sizes) == 1 else None
    return None if size is None or math.isnan(size) else size


def reverse_current(rig: Rig, circuit: Circuit) -> Verdict:
    """May the reverse current from other strings and the battery flow through a shorted string's panels?

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("seed-swap")
    >>> reverse_current(rig, rig.circuits[0]).sentence.partition(". ")[0]
    'The string of P1 and of P2 decides: up to 17.3 A in bright light; the panel is rated for 10 A, tested with 13.5 A'
    """
    found = [_backwards(rig, circuit, k) for k in range(len(circuit.wiring.strings))]
    worst = min(range(len(found)), key=lambda k: (_RANK[found[k][0]], found[k][1]))
    answer, margin, said = found[worst]
    if len({one[1:] for one in found if not math.isnan(one[1])}) > 1:
        decides = _which(circuit, [k for k in range(len(found)) if found[k] == found[worst]])
        said = f"The string of {decides} decides: {said[0].lower()}{said[1:]}"
    feeds = feeds_back(circuit.controller)
    if answer == "no":
        said = f"{said} {_cure(rig, circuit)}"
    elif answer == "close" and not math.isnan(margin) and label_limits(rig, circuit)[worst] > 0:
        said = f"{said}{_stands(margin, label_limits(rig, circuit)[worst])}"
    if circuit.blocking_diodes and answer != "yes":
        answer = "close"
        said = f"{said} A diode in each string holds it back while it is whole, and stands for no fuse."
    sources = "the other strings and the battery" if feeds else "the other strings"
    return Verdict(
        question=f"Reverse current: are the panels of {named(rig, circuit)} rated for what {sources} push back?",
        answer=answer,
        margin=margin,
        unit="A",
        sentence=said,
        basis=f"other strings at {INPUT_FACTOR:g} times their label amps; panels made to IEC 61730 are tested "
        f"with {TESTED:g} times their largest fuse for two hours (its part 2, MST 26); a fuse is sure to open, within "
        f"an hour up to 63 A, from {OPENING:g} times its amps (IEC 60269-6)",
        caution="A shorted panel fed backwards can burn." if answer == "no" else "",
        stated=not math.isnan(label_limits(rig, circuit)[worst]),
    )


def _cure(rig: Rig, circuit: Circuit) -> str:
    """What keeps strings from burning: the same words wherever it is asked."""
    if must_stay_apart(rig, circuit):
        return APART
    needing, count = _needing(rig, circuit, rig.rule_book), len(circuit.wiring.strings)
    if can_be_fused(rig, circuit):
        return f"A fuse in {_where(circuit, needing)} stops it."
    if count > 1:
        return "No legal fuse stops it; use fewer strings in parallel."
    return "No legal fuse stops it; take a controller that lets no battery current back."


def _stands(margin: float, limit: float) -> str:
    """What to do about amps over a label's fuse that the panel stands for a while; empty where no label tells."""
    if margin < (1.0 - TESTED) * limit:
        return " A smaller one, where one is legal, opens sooner."
    return " It stands them for two hours, and bright light lasts minutes: nothing is wanted."


_RANK = {"no": 0, "close": 1, "yes": 2}
_RULES = {
    "IEC": "IEC 62548: needed where the other strings (and the battery's fuse, where its current comes back) give more "
    "than the label's largest fuse; then over 1.5 and under 2.4 times the string's amps, and not over the label",
    "US": "US code 2017: needed where 1.25 times the other strings' amps (and the battery's fuse, where its current "
    "comes back) exceed the label's largest fuse (690.9(A)); then the first size from 1.5625 times up (690.8, "
    "690.9(B)), and not over the label",
}


def _backwards(rig: Rig, circuit: Circuit, k: int) -> tuple[Answer, float, str]:
    """Answer, margin and sentence for one string that is shorted."""
    limit, battery = label_limits(rig, circuit)[k], battery_push(circuit)
    others, feeds = INPUT_FACTOR * back_current(rig, circuit, k), feeds_back(circuit.controller)
    if not others and not feeds:
        return "yes", 0.0 if math.isnan(limit) else limit, f"One string: {_NO_OTHER}{_sheet_decides(circuit)}."
    if math.isnan(limit):
        return "close", 0.0, f"{_pushed(circuit, others)}, and the label gives no largest series fuse."
    fuse = (circuit.i_fuse_string or math.inf) if k in fused_strings(rig, circuit) else math.inf
    amps = math.inf if feeds else others
    on = passed(min(amps, others + OPENING * battery), fuse)
    allowed = (fuse <= limit and opens(amps, fuse)) or (others + battery <= limit)
    held = min(fuse, others + battery) if allowed else on
    answer: Answer = "yes" if held <= limit else "close" if held <= TESTED * limit or fuse <= limit else "no"
    stands = f"the panel is rated for {limit:g} A, tested with {TESTED * limit:.1f} A"
    return answer, limit - held, f"{_pushed(circuit, others)}{_opening(amps, fuse)}; {stands}."


_NO_OTHER = "there is no other to push current back, and none comes from the battery"


def _sheet_decides(circuit: Circuit) -> str:
    """Said where it is taken for granted that a converter lets no battery current back."""
    return " through a converter (feeds_back; its sheet decides)" if circuit.controller.feeds_back is None else ""


def _pushed(circuit: Circuit, others: float) -> str:
    """What pushes current back."""
    if not feeds_back(circuit.controller):
        return f"Up to {rounded_up(others)} A in bright light"
    battery = battery_push(circuit)
    fuse = f"its {battery:g} A fuse is sure to open only from {OPENING * battery:.1f} A"
    held = fuse if math.isfinite(battery) else "no fuse in the file, and a battery gives thousands"
    from_others = f"Up to {rounded_up(others)} A from the other strings, and battery" if others else "Battery"
    return f"{from_others} current through the controller ({held})"


def _opening(amps: float, fuse: float) -> str:
    """What the string's own fuse does."""
    if math.isinf(fuse):
        return ""
    if opens(amps, fuse):
        return f", and the string's {fuse:g} A fuse opens"
    return f", and the string's {fuse:g} A fuse is sure to open only from {OPENING * fuse:.1f} A"


def _string_amps(rig: Rig, circuit: Circuit) -> list[float]:
    """Short-circuit amps of each string, its strongest panel. [A]"""
    return [max(rig.panels[p].i_sc for p in string) for string in circuit.wiring.strings]


def _fed(rig: Rig, circuit: Circuit, k: int) -> bool:
    """Whether anything can push current back into a string."""
    return back_current(rig, circuit, k) > 0 or feeds_back(circuit.controller)


def _needing(rig: Rig, circuit: Circuit, rule_book: str) -> list[int]:
    """Strings that need a fuse."""
    limits, battery = label_limits(rig, circuit), battery_push(circuit)
    return [
        k
        for k, limit in enumerate(limits)
        if fuse_needed(back_current(rig, circuit, k), limit, rule_book, from_battery=battery)
    ]


def _sizes(rig: Rig, circuit: Circuit, strings: Sequence[int], rule_book: str) -> list[tuple[float, ...]]:
    """Legal sizes for each of these strings."""
    amps, limits = _string_amps(rig, circuit), label_limits(rig, circuit)
    return [legal_fuses(amps[k], limits[k], rule_book) for k in strings]


def _best_sizes(rig: Rig, circuit: Circuit, carry: Sequence[int]) -> list[float | None]:
    """For every string that shall carry a fuse what is fitted, if it is legal, or the smallest that suits most."""
    legal = dict(zip(carry, _sizes(rig, circuit, carry, rig.rule_book), strict=True))
    common = sorted(set.intersection(*map(set, legal.values()))) if legal else []
    return [_best_size(rig, circuit, k, tuple(common) or legal.get(k, ())) for k in range(len(circuit.wiring.strings))]


def _best_size(rig: Rig, circuit: Circuit, k: int, legal: Sequence[float]) -> float | None:
    """The fuse of one string: what is fitted, if it lies in its window, or the smallest of those that are legal."""
    amps, limit, fitted = _string_amps(rig, circuit)[k], label_limits(rig, circuit)[k], circuit.i_fuse_string
    low, high = fuse_window(amps, math.inf if math.isnan(limit) else limit, rig.rule_book)
    if fitted and _inside(fitted, low, high, rig.rule_book):
        return fitted
    if math.isnan(limit):
        holds = next((size for size in FUSES if _inside(size, low, math.inf, rig.rule_book)), None)
        return math.nan if _fed(rig, circuit, k) else holds
    return legal[0] if legal else None


def _fused(rig: Rig, circuit: Circuit) -> tuple[Answer, float, str]:
    """Answer, margin and sentence by the rule book of the rig."""
    limits, amps, fitted = label_limits(rig, circuit), _string_amps(rig, circuit), circuit.i_fuse_string
    needing, feeds = _needing(rig, circuit, rig.rule_book), feeds_back(circuit.controller)
    low = max(fuse_window(a, math.inf, rig.rule_book)[0] for a in amps)
    if fitted and not needing and not _inside(fitted, low, math.inf, rig.rule_book):
        least = f"{'at least' if rig.rule_book == 'US' else 'over'} {rounded_up(low)} A"
        opens_early = f"{fitted:g} A opens in bright light: a fuse must be {least} here"
        return "no", fitted - low, f"{opens_early}; {_instead(rig, circuit)}."
    if len(limits) == 1 and not feeds:
        none = f"One string, and no battery current comes back{_sheet_decides(circuit)}: it needs none."
        return "yes", limits[0] if not math.isnan(limits[0]) else 0.0, none
    if any(math.isnan(limit) for limit in limits):
        usual = "Two strings usually need none" if len(limits) == 2 else "From three strings up each usually needs one"
        usual = "Behind a controller that lets battery current back each usually needs one" if feeds else usual
        return (
            "close",
            0.0,
            f"A label gives no largest series fuse (i_max_fuse), so nobody can tell. {usual}; ask its maker.",
        )
    factor, battery = INPUT_FACTOR if rig.rule_book == "US" else 1.0, battery_push(circuit)
    back = [factor * back_current(rig, circuit, k) + battery for k in range(len(limits))]
    worst = max(range(len(limits)), key=lambda k: back[k] - limits[k])
    margin = limits[worst] - back[worst]
    alike = len(set(zip(limits, amps, strict=True))) == 1
    which = "one string" if alike else f"the string of {_which(circuit, [worst])}"
    numbers = f"{_sum_words(back[worst] - battery, battery)} into {which}, which is rated for {limits[worst]:g} A"
    if math.isinf(battery):
        margin = -limits[worst]
        numbers = f"the battery can push thousands of amps into a string, which is rated for {limits[worst]:g} A"
    if needing and must_stay_apart(rig, circuit):
        return "no", margin, f"Needed ({numbers}), and no fuse mends strings so unlike. {APART}"
    if not needing:
        return "yes", max(margin, 0.0), f"None needed: {numbers}."
    return _chosen(rig, circuit, needing, numbers, margin)


def _instead(rig: Rig, circuit: Circuit) -> str:
    """What to do about a fuse that opens too early where none is known to be needed."""
    size = fuse_to_fit(rig, circuit)
    if size is None:
        unknown = any(map(math.isnan, label_limits(rig, circuit)))
        return "ask the panel's maker for its largest" if unknown else "none is needed, take it out"
    return f"fit {size:g} A"


def _sum_words(others: float, battery: float) -> str:
    """What the others, and the battery, can push."""
    pushed = f"the others can push {others:.1f} A"
    if battery == 0:
        return pushed
    return " and ".join([pushed] * (others > 0) + [f"the battery's fuse lets {battery:g} A"])


def _chosen(rig: Rig, circuit: Circuit, needing: list[int], numbers: str, margin: float) -> tuple[Answer, float, str]:
    """Answer, margin and sentence where strings need a fuse: what is legal, and whether what is fitted is."""
    limits, amps, fitted = label_limits(rig, circuit), _string_amps(rig, circuit), circuit.i_fuse_string
    sizes = _sizes(rig, circuit, needing, rig.rule_book)
    windows = [fuse_window(amps[k], limits[k], rig.rule_book) for k in needing]
    window = " and ".join(dict.fromkeys(f"{low:.1f} to {high:.1f} A" for low, high in windows))
    if not all(sizes):
        low, high = windows[[bool(size) for size in sizes].index(False)]
        why = f"it would have to be over {low:.1f} A and not over {high:.1f} A"
        other = "Use fewer strings in parallel" if len(limits) > 1 else "Take a controller that lets no current back"
        return "no", margin, f"Needed ({numbers}), and no legal fuse exists: {why}. {other}."
    wanted = string_fuse_sizes(rig, replace(circuit, i_fuse_string=None))
    buy = _placed(circuit, {k: wanted[k] or 0.0 for k in needing})
    if fitted is None:
        return "close", margin, f"Needed: {numbers}. Fit a photovoltaic (gPV) fuse of {buy} (window {window})."
    if all(fitted in size or _inside(fitted, *w, rig.rule_book) for size, w in zip(sizes, windows, strict=True)):
        return (
            "yes",
            min(high - fitted for _, high in windows),
            f"Needed, and {fitted:g} A in {_where(circuit, needing)} fits (window {window}).",
        )
    return "no", margin, f"Needed, and {fitted:g} A lies outside {window}; fit {buy}."


def _where(circuit: Circuit, strings: Sequence[int]) -> str:
    """In which strings."""
    count = len(circuit.wiring.strings)
    if count == 1:
        return "the string, at its controller's end"
    return "each string" if len(strings) == count else f"the string of {_which(circuit, strings)}"


def _placed(circuit: Circuit, fuses: Mapping[int, float]) -> str:
    """Which size goes into which strings."""
    sizes = list(dict.fromkeys(fuses.values()))
    if len(sizes) == 1 and len(fuses) == len(circuit.wiring.strings):
        return f"{sizes[0]:g} A in {_where(circuit, list(fuses))}"
    return ", ".join(f"{a:g} A in the string of {_which(circuit, [k for k in fuses if fuses[k] == a])}" for a in sizes)


def _which(circuit: Circuit, strings: Sequence[int]) -> str:
    """Strings by their panels."""
    return " and of ".join("+".join(f"P{p + 1}" for p in circuit.wiring.strings[k]) for k in strings)


def _inside(fuse: float, low: float, high: float, rule_book: str) -> bool:
    """Whether a fuse of unusual size lies in the window."""
    return low <= fuse <= high if rule_book == "US" else low < fuse <= high


def _need_words(rig: Rig, circuit: Circuit, rule_book: str) -> str:
    """What one rule book says, in a few words."""
    if not any(_fed(rig, circuit, k) for k in range(len(circuit.wiring.strings))):
        return "none needed"
    if any(math.isnan(limit) for limit in label_limits(rig, circuit)):
        return "cannot be told without the label's largest fuse"
    needing = _needing(rig, circuit, rule_book)
    if not needing:
        return "none needed"
    sizes = _sizes(rig, circuit, needing, rule_book)
    if not all(sizes):
        return "needed, none legal"
    placed = _placed(circuit, {k: one[0] for k, one in zip(needing, sizes, strict=True)})
    return placed.replace("in each string", "each")
