"""How sure one may be of a difference between rows that drift and remember: the statistics of a trial.

Rows follow a straight or curved drift, plus noise that is partly new in each row, partly remembered for some minutes,
and larger where the light moves fast, since light and watts are never read at the same instant. How much of each is not
known; every mixture on a grid is weighed by how well it explains the rows, and their answers are added up.

Notes
-----
For one mixture with covariance s² V the effect has, with flat priors on effect, drift and log s, a t distribution with
n - p degrees of freedom around the generalised least squares estimate; its weight is the restricted likelihood
|V|^-1/2 |X' V^-1 X|^-1/2 RSS^-(n-p)/2 (Patterson and Thompson, Biometrika 58 (1971) 545; Harville, Biometrika 61 (1974)
383). How often the interval holds the truth is measured in tests/test_trials.py.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

Array = np.ndarray

MEMORY_MIN = (2.0, 5.0, 12.0)
# [min] how long a deviation is remembered: thermal and tracker wander, thin cloud; no source
REMEMBERED = (0.0, 0.5, 0.9)
# share of the noise that is remembered; no source
HASTE = (0.0, 8.0, 32.0, 128.0)
# [per share of light a minute] noise of a row from moving light, in units of its noise in steady light; no source
DIGITS = 2e-4
# no row is read better than this share; a meter's last digit; no source
STEPS = 60
# halvings when a quantile is sought
REACH = 80.0
# widths on either side within which it is sought


@dataclass(frozen=True, eq=False)
class Belief:
    """What the rows say of an effect: t distributions added up by their weights, one for each mixture of noise.

    Parameters
    ----------
    weight, middle, width : ndarray (mixture,)
        Sum to one; centre and scale of each.
    freedom : int
        Degrees of freedom of all of them.
    noise : ndarray (mixture, 3)
        Memory [min], remembered share, and haste of each.
    spread : ndarray (mixture,)
        Noise of a row in steady light, as a share.
    """

    weight: Array
    middle: Array
    width: Array
    freedom: int
    noise: Array
    spread: Array

    def below(self, value: float) -> float:
        """The chance that the effect lies below a value."""
        from scipy.special import stdtr

        return float(self.weight @ stdtr(self.freedom, (value - self.middle) / self.width))

    def quantile(self, chance: float) -> float:
        """The value below which the effect lies with this chance."""
        reach = REACH * float(self.width.max())
        low, high = float(self.middle.min()) - reach, float(self.middle.max()) + reach
        for _ in range(STEPS):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if self.below(middle) < chance else (low, middle)
        return 0.5 * (low + high)


def haste(minutes: Array, light: Array) -> Array:
    """How fast the light moves at each row, the faster of before and after; a share of it a minute (row,)."""
    steps = np.abs(np.diff(np.log(light))) / np.diff(minutes)
    return np.maximum(np.append(steps, 0.0), np.append(0.0, steps))


def mixtures() -> tuple[Array, Array]:
    """Every mixture of noise on the grid (mixture, 3), and its share of belief before any row is seen."""
    pairs = [(memory, share) for share in REMEMBERED for memory in (MEMORY_MIN if share else MEMORY_MIN[:1])]
    grid = np.array([(memory, share, fast) for memory, share in pairs for fast in HASTE])
    prior = np.where(grid[:, 1] > 0, 1.0 / len(MEMORY_MIN), 1.0)
    return grid, prior / prior.sum()


def covariances(minutes: Array, moving: Array, grid: Array) -> Array:
    """Covariance of the rows for each mixture, in units of the noise in steady light (mixture, row, row)."""
    apart = np.abs(minutes[:, None] - minutes)
    memory, share, fast = (grid[:, k, None, None] for k in range(3))
    return share * np.exp(-apart / memory) + np.eye(len(minutes)) * (1.0 - share + (fast * moving) ** 2)


def design(minutes: Array, is_after: Array, order: int) -> Array:
    """The effect and the powers of time that may drift, from 0 to an order (row, term)."""
    time = (minutes - minutes.mean()) / max(float(np.ptp(minutes)), 1e-9)
    return np.column_stack([is_after, *(time**power for power in range(order + 1))])


def weighed(values: Array, terms: Array, minutes: Array, moving: Array, unsure: Array) -> Belief:
    """What the rows say of the first term.

    Parameters
    ----------
    values : ndarray (row,)
        Logarithms of what is compared.
    terms : ndarray (row, term)
        Effect first, then drift.
    moving : ndarray (row,)
        How fast the light moves.
    unsure : ndarray (row, cause)
        What one width of each known uncertainty of a correction would add to the rows; a cause moves all rows together.
    """
    grid, prior = mixtures()
    root = np.linalg.cholesky(covariances(minutes, moving, grid))
    many = np.broadcast_to(
        np.column_stack([terms, values, unsure]), (len(grid), len(values), terms.shape[1] + 1 + unsure.shape[1])
    )
    white = np.linalg.solve(root, many)
    number = terms.shape[1]
    x, y, causes = white[..., :number], white[..., number : number + 1], white[..., number + 1 :]
    turned = np.swapaxes(x, 1, 2)
    inverse = np.linalg.inv(turned @ x)
    found = inverse @ (turned @ y)
    freedom = len(values) - number
    rest = np.sum((y - x @ found) ** 2, axis=(1, 2)) + freedom * DIGITS**2
    fit = -np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1) + 0.5 * np.linalg.slogdet(inverse)[1]
    fit -= 0.5 * freedom * np.log(rest)
    weight = prior * np.exp(fit - fit.max())
    shift = (inverse @ (turned @ causes))[:, 0]
    width = np.sqrt(rest / freedom * inverse[:, 0, 0] + np.sum(shift**2, axis=1))
    return Belief(weight / weight.sum(), found[:, 0, 0], width, freedom, grid, np.sqrt(rest / freedom))
