import numpy as np
import pytest
from scipy import stats

from analytics.kernel.count_distribution import match_counts


@pytest.mark.parametrize("seed", range(3))
def test_cdf_and_quantile_agree_with_scipy(seed):
    rng = np.random.default_rng(seed)
    mean = rng.gamma(1.0, 8.0, 200)
    wide = mean * (1 + rng.gamma(1.0, 1.0, 200))
    levels = np.array([0.01, 0.05, 0.5, 0.9, 0.95, 0.999])[:, None]
    size, chance = mean**2 / (wide - mean), mean / wide
    nbinom = match_counts(mean, wide)
    assert (nbinom.kind == "negative binomial").all()
    assert nbinom.quantile(levels) == pytest.approx(stats.nbinom.ppf(levels, size, chance))
    assert nbinom.cdf(7) == pytest.approx(stats.nbinom.cdf(7, size, chance))
    poisson = match_counts(mean, mean)
    assert poisson.quantile(levels) == pytest.approx(stats.poisson.ppf(levels, mean))


def test_binomial_has_the_mean_and_at_least_the_variance_asked_for():
    found = match_counts(6.0, 4.0)
    assert found.kind == "binomial"
    k = np.arange(40)
    pmf = np.diff(np.concatenate([[0.0], found.cdf(k)]))
    assert pmf @ k == pytest.approx(6.0)
    variance = pmf @ k**2 - 36
    assert 4.0 <= variance + 1e-9 <= 4.2
    assert found.cdf(k) == pytest.approx(stats.binom.cdf(k, 18, 6 / 18))
    assert match_counts(4.0, 0.0).quantile([0.01, 0.99]).tolist() == [4, 4]


def test_nothing_expected_is_nothing_demanded():
    found = match_counts(0.0, 0.0)
    assert found.kind == "none"
    assert found.quantile([0.05, 0.99]).tolist() == [0, 0]
    assert found.cdf([-1, 0]).tolist() == [0, 1]


def test_quantile_is_the_smallest_count_that_reaches_its_level():
    found = match_counts([0.4, 30.0, 2000.0], [0.9, 30.0, 9000.0])
    for level in (0.0, 0.3, 0.95, 0.9999):
        count = found.quantile(level)
        assert (count == np.floor(count)).all()
        assert (found.cdf(count) >= level).all()
        assert ((found.cdf(count - 1) < level) | (count == 0)).all()


def test_wrong_input_is_named():
    with pytest.raises(ValueError, match="a mean must be 0 or more and finite, got -1"):
        match_counts(-1.0, 1.0)
    with pytest.raises(ValueError, match="a variance must be 0 or more and finite, got nan"):
        match_counts(1.0, np.nan)
    with pytest.raises(ValueError, match=r"a probability lies in \[0, 1\), got 1"):
        match_counts(1.0, 1.0).quantile(1.0)
