import math

import numpy as np
import pytest
from scipy import stats

from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.prior_table import DEFAULTS, PriorKind
from fairsmoke.judging.priors import Priors, SpreadPrior, defaults_for

LEVELS = [1e-9, 0.001, 0.025, 0.3, 0.5, 0.9, 0.999]


@pytest.mark.parametrize("p", LEVELS)
def test_quantiles_match_scipy(p: float) -> None:
    """Source: scipy.stats halfnorm and lognorm."""
    half = SpreadPrior.half_normal(1.7)
    assert half.quantile(p) == pytest.approx(stats.halfnorm.ppf(p, scale=1.7), rel=1e-6)
    log = SpreadPrior.log_normal(2.5, 1.6)
    assert log.quantile(p) == pytest.approx(stats.lognorm.ppf(p, s=math.log(1.6), scale=2.5))


def test_mean_squares_match_scipy() -> None:
    half, log = SpreadPrior.half_normal(1.7), SpreadPrior.log_normal(2.5, 1.6)
    assert half.mean_square() == pytest.approx(stats.halfnorm(scale=1.7).moment(2))
    assert log.mean_square() == pytest.approx(stats.lognorm(s=math.log(1.6), scale=2.5).moment(2))


def test_half_normal_is_finite_and_rising_far_out() -> None:
    sds = SpreadPrior.half_normal(1.0).sd_at(np.linspace(-12.0, 12.0, 97))
    assert np.isfinite(sds).all()
    assert (np.diff(sds) > 0.0).all()


@pytest.mark.parametrize(("size", "factor"), [(0.0, 2.0), (-1.0, 2.0), (1.0, 0.9), (np.nan, 2.0)])
def test_improper_spreads_are_refused(size: float, factor: float) -> None:
    with pytest.raises(ComparisonError):
        SpreadPrior.log_normal(size, factor)


def test_improper_priors_are_refused() -> None:
    piece = SpreadPrior.log_normal(1.0, 2.0)
    with pytest.raises(ComparisonError, match="difference_sd"):
        Priors(60.0, 15.0, 0.0, piece)
    with pytest.raises(ComparisonError, match="mean of the level"):
        Priors(math.nan, 15.0, 1.0, piece)


def made(kind: PriorKind) -> Priors:
    if kind is PriorKind.SCORE:
        return defaults_for(kind, scale_span=8.0, centre=5.0)
    return defaults_for(kind)


@pytest.mark.parametrize("kind", list(PriorKind))
def test_every_default_is_described_with_reason_and_source(kind: PriorKind) -> None:
    lines = [str(line) for line in made(kind).described()]
    assert len(lines) == len(DEFAULTS[kind]) + 1  # and that a piece may be odd
    for line in lines:
        assert "Source: " in line
        assert "nan" not in line


def test_yield_covers_the_published_spreads() -> None:
    """Cook-loss sds 2.01, 2.83 and about 4.05 points: references/stats.md section 8."""
    piece = defaults_for("yield").piece
    low, high = piece.size / piece.factor, piece.size * piece.factor
    assert low < 0.0201 < 0.0283 < 0.0405 < 0.052 < high
    assert piece.quantile(0.05) < 0.0201
    assert piece.quantile(0.95) > 0.0405


def test_score_scales_with_its_span() -> None:
    wide, narrow = (defaults_for("score", scale_span=s, centre=5.0) for s in (8.0, 4.0))
    assert wide.piece.size == pytest.approx(2.0 * narrow.piece.size)
    assert wide.difference_sd == pytest.approx(2.0 * narrow.difference_sd)
    assert wide.mu_mean == narrow.mu_mean == 5.0


@pytest.mark.parametrize(
    ("kind", "options", "message"),
    [
        ("weight", {}, "known kinds"),
        ("score", {}, "scale_span"),
        ("score", {"scale_span": 8.0}, "centre"),
        ("yield", {"scale_span": 8.0}, "scores only"),
        ("cook_time", {"centre": 43200.0}, "10.674"),
        ("yield", {"centre": math.nan}, "give a number"),
    ],
)
def test_what_does_not_fit_is_refused(kind: str, options: dict[str, float], message: str) -> None:
    with pytest.raises(ComparisonError, match=message):
        defaults_for(kind, **options)  # type: ignore[arg-type]


def test_unknown_factor_is_named() -> None:
    with pytest.raises(ComparisonError, match="'grill'"):
        defaults_for("yield", factors=("cook", "grill"))


def test_numbers_are_shown_in_the_units_of_people() -> None:
    text = "\n".join(map(str, defaults_for("yield", factors=()).described()))
    assert "about 60 %" in text
    assert "about 3.0 points" in text
    assert "about 12 h" in str(defaults_for("cook_time").described()[0])


def test_scaled_priors_are_shown_the_same() -> None:
    """Points instead of fractions: the words for people do not change."""
    priors = defaults_for("yield")
    assert priors.scaled(100.0).described() == priors.described()
    assert priors.scaled(100.0).piece.size == pytest.approx(3.0)
