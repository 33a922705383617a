"""Statistics of a trial: how sure a difference between rows is whose noise drifts and is correlated in time.

Rows follow a straight or curved drift, plus noise that is partly new in each row, partly remembered for some minutes,
and larger where the light moves fast, since light and watts are never read at the same instant. How much of each is not
known; every mixture on a grid is weighed by how well it explains the rows, and their answers are added up.

Notes
-----
Effect and drift have flat priors, a cause of doubt a normal one as wide as it is unsure, so the rows may tell something
of it. For one mixture with covariance s² V the effect is then normal around the generalised least squares estimate; its
weight is the restricted likelihood (Patterson and Thompson, Biometrika 58 (1971) 545; Harville, Biometrika 61 (1974)
383), s running over steps of its logarithm. Without causes that adds up to the t distribution with n - p degrees of
freedom.

What the rows say of the noise is then trusted no further than its pieces go. The effect is a difference of blocks; how
far blocks stray by themselves is a matter of minutes, and ten readings in five of them show it hardly better than one.
Taken for ten they are explained by some short memory, and a long one, which would widen the interval, is ruled out by
evidence that is none. So the restricted likelihood is raised to the power (pieces - p) / (n - p), a fractional
likelihood as for any model that is not quite true (Bissiri, Holmes and Walker, J. R. Stat. Soc. B 78 (2016) 1103);
without causes and memory that is the t distribution with pieces - p degrees of freedom. How often the interval holds
the truth is measured in tests/test_trials.py and tests/test_trials_of_other_make.py.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

Array = np.ndarray

MEMORY_MIN, MEMORY_LIKELY = (2.0, 6.0, 18.0), (0.3, 0.3, 0.4)
# [min, share] how long a deviation is remembered, of cells, tracker, thin cloud, and how often so long; no source
REMEMBERED, REMEMBERED_LIKELY = (0.0, 0.5, 0.9), (0.45, 0.3, 0.25)
# share of the noise that is remembered, and how often so much; no source
HASTE = (0.0, 8.0, 32.0, 128.0)
# [per share of light a minute] noise of a row from moving light, in units of its noise in steady light; no source
DIGITS = 2e-4
# no row is read better than this share; a meter's last digit; no source
PAUSE_STEPS = 2.0
# usual steps between two rows, from which they are a pause apart; no source
EXACT = 4.0 * np.finfo(float).eps
# share of itself within which a quantile is found
REACH = 80.0
# widths on either side within which it is sought
SPREADS, BELOW, ABOVE = 16, 2.5, 4.5
# steps of the noise of a row, and how many of its widths they reach below the least and above the most likely
PIECE_MIN = 5.0
# [min] rows closer than this count together as one piece of evidence on the noise; no source
LEAST_WEIGHT = 1e-7
# against the likeliest, below which a mixture is left out


@dataclass(frozen=True, eq=False)
class Posterior:
    """Posterior of an effect: a weighted sum of normal distributions, one for each mixture of noise.

    Parameters
    ----------
    weight, middle, width : ndarray (mixture,)
        Weight (they sum to one), mean and standard deviation of each.
    noise : ndarray (mixture, 3)
        Correlation time [min], correlated share, and factor for fast-moving light of each.
    spread : ndarray (mixture,)
        Noise of a row in steady light, as a share.
    guess : ndarray of int (mixture,)
        Which of the guesses of the causes' standard deviations.
    """

    weight: Array
    middle: Array
    width: Array
    noise: Array
    spread: Array
    guess: Array

    def below(self, value: float) -> float:
        """The chance that the effect lies below a value."""
        from scipy.special import ndtr

        return float(self.weight @ ndtr((value - self.middle) / self.width))

    def quantile(self, chance: float) -> float:
        """The value below which the effect lies with this chance."""
        from scipy.optimize import brentq

        reach = REACH * float(self.width.max())
        low, high = float(self.middle.min()) - reach, float(self.middle.max()) + reach
        tiny = EXACT * float(self.width.min())
        return float(brentq(lambda value: self.below(value) - chance, low, high, xtol=tiny, rtol=EXACT))


def haste(minutes: Array, light: Array) -> Array:
    """Relative rate of change of the light at each row, the faster of before and after (row,). [1/min]"""
    steps = np.abs(np.diff(np.log(light))) / np.diff(minutes)
    return np.maximum(np.append(steps, 0.0), np.append(0.0, steps))


def mixtures() -> tuple[Array, Array]:
    """Every mixture of noise on the grid (mixture, 3), and its share of belief before any row is seen."""
    pairs = [
        (memory, share, likely * often)
        for share, likely in zip(REMEMBERED, REMEMBERED_LIKELY, strict=True)
        # how long matters only where anything is remembered
        for memory, often in (zip(MEMORY_MIN, MEMORY_LIKELY, strict=True) if share else [(MEMORY_MIN[0], 1.0)])
    ]
    grid = np.array([(memory, share, fast) for memory, share, _ in pairs for fast in HASTE])
    prior = np.repeat([likely for *_, likely in pairs], len(HASTE))
    return grid, prior / prior.sum()


def covariances(minutes: Array, moving: Array, grid: Array) -> Array:
    """Covariance of the rows for each mixture, in units of the noise in steady light (mixture, row, row)."""
    apart = np.abs(minutes[:, None] - minutes)
    memory, share, fast = (grid[:, k, None, None] for k in range(3))
    return share * np.exp(-apart / memory) + np.eye(len(minutes)) * (1.0 - share + (fast * moving) ** 2)


def design(minutes: Array, is_after: Array, order: int) -> Array:
    """Design matrix: the effect, then the powers of time of the drift, from 0 to an order (row, term)."""
    time = (minutes - minutes.mean()) / max(float(np.ptp(minutes)), 1e-9)
    return np.column_stack([is_after, *(time**power for power in range(order + 1))])


def trust(minutes: Array, terms: int) -> float:
    """Power to which the likelihood is raised: independent pieces of evidence on the noise per row, less fitted terms.

    Parameters
    ----------
    terms : int
        How many are fitted.

    Examples
    --------
    Three blocks of 20 minutes hold twelve pieces of five minutes, whether read every minute or every five.

    >>> every_minute, every_five = (
    ...     np.concatenate([np.arange(0.0, 20.0, step) + start for start in (0, 25, 50)]) for step in (1.0, 5.0)
    ... )
    >>> round(trust(every_minute, 3) * (60 - 3), 6), trust(every_five, 3)
    (9.0, 1.0)
    """
    steps = np.diff(minutes)
    usual = float(np.median(steps))
    # a pause between two blocks holds no rows, and tells of none
    covered = np.append(np.where(steps > PAUSE_STEPS * usual, usual, steps), usual)
    pieces = float(np.minimum(covered / PIECE_MIN, 1.0).sum())
    return max(pieces - terms, 1.0) / (len(minutes) - terms)


def weighed(
    values: Array, terms: Array, minutes: Array, moving: Array, unsure: Array, *, scales: Array | None = None
) -> Posterior:
    """Posterior of the first term, the effect.

    Parameters
    ----------
    values : ndarray (row,)
        Logarithms of what is compared.
    terms : ndarray (row, term)
        The effect first, then what may drift freely.
    minutes : ndarray (row,)
        Time of each row. [min]
    moving : ndarray (row,)
        Relative rate of change of the light, as `haste` gives it. [1/min]
    unsure : ndarray (row, cause)
        What one standard deviation of each uncertain correction adds to the rows; a cause moves all rows together.
    scales : ndarray (guess, cause + 1), optional
        Factors on these standard deviations, guess by guess; in the last column the prior weight of each guess.
        Without it the factors are one.
    """
    scales = np.ones((1, unsure.shape[1] + 1)) if scales is None else scales
    grid, prior = mixtures()
    root = np.linalg.cholesky(covariances(minutes, moving, grid))
    columns = np.column_stack([terms, unsure, values])
    white = np.linalg.solve(root, np.broadcast_to(columns, (len(grid), *columns.shape)))
    squares = np.swapaxes(white, 1, 2) @ white
    free = len(values) - terms.shape[1]
    squares[:, -1, -1] += free * DIGITS**2
    trusted = trust(minutes, terms.shape[1])
    spread = _spreads(squares, terms.shape[1], free, trusted)
    fit, middle, width = _fits(squares, terms.shape[1], spread, scales)
    fit -= np.log(np.diagonal(root, axis1=1, axis2=2)).sum(axis=1)[:, None, None]
    fit -= len(values) * np.log(spread)[:, :, None]
    believed = np.log(prior)[:, None, None] + np.log(np.gradient(np.log(spread), axis=1))[:, :, None]
    fit = trusted * fit + believed + np.log(scales[:, -1])
    weight = np.exp(fit - fit.max())
    kept = weight > LEAST_WEIGHT * weight.max()
    where = np.nonzero(kept)
    return Posterior(
        weight=weight[kept] / weight[kept].sum(),
        middle=middle[kept],
        width=width[kept],
        noise=grid[where[0]],
        spread=spread[where[0], where[1]],
        guess=where[2],
    )


def _spreads(squares: Array, terms: int, free: int, trusted: float) -> Array:
    """Noise of a row in steady light, from less than is likely to more than is likely (mixture, spread)."""
    most = _rest(squares, [*range(terms)])
    least = np.maximum(_rest(squares, [*range(squares.shape[1] - 1)]), free * DIGITS**2)
    one = 1.0 / np.sqrt(2.0 * free * trusted)
    ends = (0.5 * np.log(least / free) - BELOW * one, 0.5 * np.log(np.maximum(most, least) / free) + ABOVE * one)
    return np.exp(np.linspace(*ends, SPREADS, axis=1))


def _rest(squares: Array, columns: list[int]) -> Array:
    """What is left of the values' squares when these columns have explained what they can (mixture,)."""
    among, cross = squares[:, columns][:, :, columns], squares[:, columns, -1]
    found = np.linalg.pinv(among, hermitian=True) @ cross[..., None]
    return np.asarray(squares[:, -1, -1] - np.sum(cross * found[..., 0], axis=1))


def _fits(squares: Array, terms: int, spread: Array, scales: Array) -> tuple[Array, Array, Array]:
    """Logarithm of the likelihood, centre and width of the effect (mixture, spread, guess)."""
    causes = squares.shape[1] - 1 - terms
    wide = np.column_stack([np.ones((len(scales), terms)), np.broadcast_to(scales[:, :-1], (len(scales), causes))])
    inside = (wide[:, :, None] * wide[:, None, :]) * squares[:, None, None, :-1, :-1]
    cross = wide * squares[:, None, None, :-1, -1]
    over = 1.0 / spread[:, :, None, None] ** 2
    matrix = inside * over[..., None] + np.diag(np.repeat([0.0, 1.0], (terms, causes)))
    inverse = np.linalg.inv(matrix)
    pull = cross * over
    found = (inverse @ pull[..., None])[..., 0]
    rest = squares[:, None, None, -1, -1] * over[..., 0] - np.sum(pull * found, axis=-1)
    fit = -0.5 * rest - 0.5 * np.linalg.slogdet(matrix)[1]
    return fit, found[..., 0], np.sqrt(inverse[..., 0, 0])
