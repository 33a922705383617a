"""Fuses in the strings: needed or not, which sizes are legal, and what current can flow backwards without them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from vanpower.checks.words import INPUT_FACTOR, named, rounded_up
from vanpower.rig import Circuit, Rig
from vanpower.verdicts import Answer, Verdict

FUSES = (
    1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 16, 20, 25, 30, 32, 35, 40, 45, 50, 60, 63, 70, 80, 90, 100, 110, 125, 150, 175,
    200, 225, 250, 300, 350, 400,
)  # fmt: skip
# [A] ratings made; US National Electrical Code 2017, Table 240.6(A), from 15 A up; common practice, no source, for
# those below and for 16, 32 and 63 A
FUSE_LEAST, FUSE_MOST = 1.5, 2.4
# a string's fuse lies strictly between so many times its short-circuit amps; IEC 62548 (ABNT NBR 16690, SS 638)
US_FUSE_LEAST = INPUT_FACTOR * 1.25
# the same after US National Electrical Code 2017, 690.8(A)(1) and 690.9(B)(1); its note prints 156 percent
TESTED = 1.35
# a panel carries so many times its largest fuse backwards for two hours without fire; IEC 61730-2 MST 26
ROUNDING = 1e-9
# [A] rounding of a sum of amps that just meets a limit


def legal_fuses(i_sc: float, i_max_fuse: float, rule_book: str = "IEC", *, shared_by: int = 1) -> tuple[float, ...]:
    """Ratings that are legal for one string, or for strings that share a fuse; empty where there are none.

    Parameters
    ----------
    i_sc, i_max_fuse : float
        Of the label: short-circuit amps, and largest series fuse. [A]
    rule_book : str
        "IEC": strictly between 1.5 and 2.4 times, not above the label. "US": the first size from 1.5625 times up.
    shared_by : int
        Strings behind one fuse; then it lies strictly below the label less the amps of the others (IEC).

    Examples
    --------
    >>> legal_fuses(9.45, 15.0), legal_fuses(10.0, 15.0), legal_fuses(11.2, 30.0, "US")
    ((15,), (), (20,))
    """
    least, most = fuse_window(i_sc, i_max_fuse, rule_book, shared_by=shared_by)
    if rule_book == "US":
        first = next((size for size in FUSES if size >= least - ROUNDING), math.inf)
        return (first,) if first <= most else ()
    if shared_by > 1:
        return tuple(size for size in FUSES if least < size < most)
    return tuple(size for size in FUSES if least < size < FUSE_MOST * i_sc and size <= i_max_fuse)


def fuse_window(i_sc: float, i_max_fuse: float, rule_book: str = "IEC", *, shared_by: int = 1) -> tuple[float, float]:
    """Lower and upper bound of a string's fuse. [A]

    Examples
    --------
    >>> fuse_window(6.0, 12.0), fuse_window(6.0, 12.0, "US")
    ((9.0, 12.0), (9.375, 12.0))
    """
    if rule_book == "US":
        return US_FUSE_LEAST * shared_by * i_sc, i_max_fuse
    if shared_by > 1:
        return FUSE_LEAST * shared_by * i_sc, i_max_fuse - (shared_by - 1) * i_sc
    return FUSE_LEAST * i_sc, min(FUSE_MOST * i_sc, i_max_fuse)


def back_current(rig: Rig, circuit: Circuit, string: int) -> float:
    """Label amps that the other strings of a circuit can push into one that is shorted. [A]

    Examples
    --------
    >>> from vanpower import load_rig
    >>> rig = load_rig("seed-swap")
    >>> back_current(rig, rig.circuits[0], 0)  # the other two push into P1
    13.8
    """
    others = [panels for k, panels in enumerate(circuit.wiring.strings) if k != string]
    return sum(max(rig.panels[p].i_sc for p in panels) for panels in others)


def fuse_needed(back: float, i_max_fuse: float, rule_book: str = "IEC") -> bool:
    """Whether each string needs a fuse; meeting the label's limit exactly needs none.

    Examples
    --------
    >>> fuse_needed(2 * 10.0, 20.0), fuse_needed(3 * 10.0, 20.0)
    (False, True)
    """
    counted = back * (INPUT_FACTOR if rule_book == "US" else 1.0)
    return counted > i_max_fuse + ROUNDING


def fused_strings(rig: Rig, circuit: Circuit) -> tuple[int, ...]:
    """Strings that carry the fuse the file names: those that need one, or all where none needs it; counted from 0.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from vanpower import load_rig
    >>> rig = load_rig("seed-swap")
    >>> fused_strings(rig, replace(rig.circuits[0], i_fuse_string=8.0))  # P1 and P2; P3 stands what they push
    (0, 1)
    """
    if circuit.i_fuse_string is None:
        return ()
    return tuple(_needing(rig, circuit, rig.rule_book) or range(len(circuit.wiring.strings)))


def string_fuse(rig: Rig, circuit: Circuit) -> Verdict:
    """Does each string need a fuse, and is there a legal one?

    Examples
    --------
    >>> from vanpower import load_rig
    >>> rig = load_rig("seed-swap")
    >>> string_fuse(rig, rig.circuits[0]).answer
    'close'
    """
    answer, margin, sentence = _fused(rig, circuit)
    count = len(circuit.wiring.strings)
    rules = {book: _need_words(rig, circuit, book) for book in ("IEC", "US")}
    other = "US" if rig.rule_book == "IEC" else "IEC"
    return Verdict(
        question=f"String fuse: is {named(rig, circuit)} guarded against its own strings?",
        answer=answer,
        margin=margin,
        unit="A",
        sentence=sentence,
        basis=f"{_RULES[rig.rule_book]}; by {other} rules: {rules[other]}",
        caution="A string fed backwards burns. Fuses rated for DC, of the cold volts; never open one under load."
        if answer != "yes" and count > 1
        else "",
    )


def can_be_fused(rig: Rig, circuit: Circuit) -> bool:
    """Whether there is a legal fuse for every string that needs one; another one then mends a wrong one.

    Examples
    --------
    >>> from vanpower import load_rig
    >>> rig = load_rig("seed-swap")
    >>> can_be_fused(rig, rig.circuits[0])
    True
    """
    return all(_sizes(rig, circuit, _needing(rig, circuit, rig.rule_book), rig.rule_book))


def reverse_current(rig: Rig, circuit: Circuit) -> Verdict:
    """What can the other strings push into a shorted one, against what its panels are tested for?

    Examples
    --------
    >>> from vanpower import load_rig
    >>> rig = load_rig("seed-swap")
    >>> print(reverse_current(rig, rig.circuits[0]).sentence)
    Up to 17.3 A in bright light; the label stands 10 A, tested with 13.5 A. A fuse in each string stops it.
    """
    strings = range(len(circuit.wiring.strings))
    limits, fused = _limits(rig, circuit), fused_strings(rig, circuit)
    back = [INPUT_FACTOR * back_current(rig, circuit, k) for k in strings]
    fuses = [circuit.i_fuse_string or math.inf if k in fused else math.inf for k in strings]
    worst = max(strings, key=lambda k: min(back[k], fuses[k]) - limits[k])
    limit, amps, fuse = limits[worst], back[worst], fuses[worst]
    held = min(amps, fuse)
    cure = _cure(rig, circuit)
    answer: Answer = "yes" if held <= limit else "close" if held <= TESTED * limit or math.isnan(limit) else "no"
    if amps == 0:
        answer, said = "yes", "One string: there is no other to push current back."
    elif math.isnan(limit):
        said = f"Up to {rounded_up(amps)} A from the other strings, and the label gives no largest series fuse."
    else:
        opens = f", and the string's {fuse:g} A fuse opens" if fuse < amps else ""
        stands = f"the label stands {limit:g} A, tested with {TESTED * limit:.1f} A"
        said = f"Up to {rounded_up(amps)} A in bright light{opens}; {stands}."
        said += f" {cure}" * (answer == "no")
    return Verdict(
        question=f"Reverse current: do the panels of {named(rig, circuit)} stand what the other strings push back?",
        answer=answer,
        margin=0.0 if math.isnan(limit) else limit - held,
        unit="A",
        sentence=said,
        basis=f"other strings at {INPUT_FACTOR:g} times their label amps; panels are tested with {TESTED:g} times "
        "their largest fuse for two hours (IEC 61730-2 MST 26)",
        caution=f"A shorted panel fed by the others burns. {cure}" if answer == "no" else "",
    )


def _cure(rig: Rig, circuit: Circuit) -> str:
    """What keeps strings from burning each other."""
    legal = all(_sizes(rig, circuit, range(len(circuit.wiring.strings)), rig.rule_book))
    return "A fuse in each string stops it." if legal else "No legal fuse stops it; use fewer strings side by side."


_RULES = {
    "IEC": "IEC 62548: needed where the other strings give more than the label's largest fuse; then over 1.5 and "
    "under 2.4 times the string's amps, and not over the label",
    "US": "US code 2017: needed where 1.25 times the other strings' amps exceed the label's largest fuse (690.9(A)); "
    "then the first size from 1.5625 times up (690.8, 690.9(B)), and not over the label",
}


def _limits(rig: Rig, circuit: Circuit) -> list[float]:
    """Smallest label fuse of each string; not a number where a label gives none. [A]"""
    labels = [[rig.panels[p].i_max_fuse for p in string] for string in circuit.wiring.strings]
    return [
        min((a for a in amps if a is not None), default=math.nan) if None not in amps else math.nan for amps in labels
    ]


def _string_amps(rig: Rig, circuit: Circuit) -> list[float]:
    """Short-circuit amps of each string, its strongest panel. [A]"""
    return [max(rig.panels[p].i_sc for p in string) for string in circuit.wiring.strings]


def _needing(rig: Rig, circuit: Circuit, rule_book: str) -> list[int]:
    """Strings that need a fuse."""
    limits = _limits(rig, circuit)
    return [k for k, limit in enumerate(limits) if fuse_needed(back_current(rig, circuit, k), limit, rule_book)]


def _sizes(rig: Rig, circuit: Circuit, strings: Sequence[int], rule_book: str) -> list[tuple[float, ...]]:
    """Legal sizes for each of these strings."""
    amps, limits = _string_amps(rig, circuit), _limits(rig, circuit)
    return [legal_fuses(amps[k], limits[k], rule_book) for k in strings]


def _fused(rig: Rig, circuit: Circuit) -> tuple[Answer, float, str]:
    """Answer, margin and sentence by the rule book of the rig."""
    limits, amps, fitted = _limits(rig, circuit), _string_amps(rig, circuit), circuit.i_fuse_string
    needing = _needing(rig, circuit, rig.rule_book)
    low = max(fuse_window(a, math.inf, rig.rule_book)[0] for a in amps)
    if fitted and not needing and not _inside(fitted, low, math.inf, rig.rule_book):
        least = f"{'at least' if rig.rule_book == 'US' else 'over'} {rounded_up(low)} A"
        return "no", fitted - low, f"{fitted:g} A opens in bright light: a fuse must be {least} here."
    if len(limits) == 1:
        return "yes", limits[0] if not math.isnan(limits[0]) else 0.0, "One string: it needs none."
    if any(math.isnan(limit) for limit in limits):
        usual = "Two strings usually need none" if len(limits) == 2 else "From three strings up each usually needs one"
        return (
            "close",
            0.0,
            f"A label gives no largest series fuse (i_max_fuse), so nobody can tell. {usual}; ask its maker.",
        )
    factor = INPUT_FACTOR if rig.rule_book == "US" else 1.0
    back = [factor * back_current(rig, circuit, k) for k in range(len(limits))]
    worst = max(range(len(limits)), key=lambda k: back[k] - limits[k])
    margin = limits[worst] - back[worst]
    numbers = f"the others can push {back[worst]:.1f} A into one string, its label stands {limits[worst]:g} A"
    if not needing:
        return "yes", max(margin, 0.0), f"None needed: {numbers}."
    return _chosen(rig, circuit, needing, numbers, margin)


def _chosen(rig: Rig, circuit: Circuit, needing: list[int], numbers: str, margin: float) -> tuple[Answer, float, str]:
    """Answer, margin and sentence where strings need a fuse: what is legal, and whether what is fitted is."""
    limits, amps, fitted = _limits(rig, circuit), _string_amps(rig, circuit), circuit.i_fuse_string
    sizes = _sizes(rig, circuit, needing, rig.rule_book)
    windows = [fuse_window(amps[k], limits[k], rig.rule_book) for k in needing]
    window = " and ".join(dict.fromkeys(f"{low:.1f} to {high:.1f} A" for low, high in windows))
    if not all(sizes):
        low, high = windows[[bool(size) for size in sizes].index(False)]
        why = f"it would have to be over {low:.1f} A and not over {high:.1f} A"
        return "no", margin, f"Needed ({numbers}), and no legal fuse exists: {why}. Use fewer strings side by side."
    buy = _placed(circuit, {k: size[0] for k, size in zip(needing, sizes, strict=True)})
    where = "each string" if len(needing) == len(limits) else f"the string of {_which(circuit, needing)}"
    if fitted is None:
        return "close", margin, f"Needed: {numbers}. Fit a DC fuse of {buy} (window {window})."
    if all(fitted in size or _inside(fitted, *w, rig.rule_book) for size, w in zip(sizes, windows, strict=True)):
        return (
            "yes",
            min(high - fitted for _, high in windows),
            f"Needed, and {fitted:g} A in {where} fits (window {window}).",
        )
    return "no", margin, f"Needed, and {fitted:g} A lies outside {window}; fit {buy}."


def _placed(circuit: Circuit, fuses: Mapping[int, float]) -> str:
    """Which size goes into which strings."""
    sizes = list(dict.fromkeys(fuses.values()))
    if len(sizes) == 1 and len(fuses) == len(circuit.wiring.strings):
        return f"{sizes[0]:g} A in each string"
    return ", ".join(f"{a:g} A in the string of {_which(circuit, [k for k in fuses if fuses[k] == a])}" for a in sizes)


def _which(circuit: Circuit, strings: Sequence[int]) -> str:
    """Strings by their panels."""
    return " and of ".join("+".join(f"P{p + 1}" for p in circuit.wiring.strings[k]) for k in strings)


def _inside(fuse: float, low: float, high: float, rule_book: str) -> bool:
    """Whether a fuse of unusual size lies in the window."""
    return low <= fuse <= high if rule_book == "US" else low < fuse <= high


def _need_words(rig: Rig, circuit: Circuit, rule_book: str) -> str:
    """What one rule book says, in a few words."""
    if any(math.isnan(limit) for limit in _limits(rig, circuit)):
        return "cannot be told without the label's largest fuse" if len(circuit.wiring.strings) > 1 else "none needed"
    needing = _needing(rig, circuit, rule_book)
    if len(circuit.wiring.strings) == 1 or not needing:
        return "none needed"
    sizes = _sizes(rig, circuit, needing, rule_book)
    return f"{' and '.join(dict.fromkeys(f'{s[0]:g} A' for s in sizes))} each" if all(sizes) else "needed, none legal"
