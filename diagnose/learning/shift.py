"""How far counts shift a rate: a gamma prior, Poisson counts. Plain floats; no files, no panels."""

from __future__ import annotations


def gamma_mean(shape: float, rate: float, count: float, exposure: float) -> float:
    """Mean of a Poisson rate after `count` events in `exposure`, from a gamma prior.

    The gamma is the conjugate prior of a Poisson rate: the posterior is a gamma of shape + count and
    rate + exposure (Gelman et al., Bayesian Data Analysis, section 2.6).

    Parameters
    ----------
    shape, rate : float
        Of the prior, both more than 0; its mean is shape / rate.
    count, exposure : float
        What was seen, neither negative; exposure in the unit that makes a rate of one event each.

    Raises
    ------
    ValueError
        For a prior or a count that is none.

    Examples
    --------
    >>> gamma_mean(2.0, 2.0, 0, 0.0)
    1.0
    >>> gamma_mean(2.0, 2.0, 4, 1.0)
    2.0
    """
    if not (shape > 0 and rate > 0 and count >= 0 and exposure >= 0):
        raise ValueError(f"gamma({shape}, {rate}) with {count} events in {exposure} makes no sense")
    return (shape + count) / (rate + exposure)


def shift_of(count: float, expected: float, prior_failures: float, most: float) -> float:
    """By what a bundled rate is multiplied after `count` confirmed failures where `expected` were to be expected.

    The multiplier has a gamma prior of mean 1 that is worth `prior_failures` failures; the exposure is counted in
    failures expected at the bundled rate. Never more than `most` nor less than 1 / `most`.

    Examples
    --------
    >>> shift_of(0, 0.0, 2.0, 10.0)
    1.0
    >>> shift_of(100, 1.0, 2.0, 10.0)
    10.0
    """
    return min(max(gamma_mean(prior_failures, prior_failures, count, expected), 1 / most), most)
