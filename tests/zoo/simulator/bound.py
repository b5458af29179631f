"""Least error of any unbiased estimate (Cramer 1946, Rao 1945), full chain.

The samples are those of the simulator before noise, y = pick(amplify(light)):
excess phase with its jumps, poles, coupling capacitor and decimation are in the
derivatives, taken by finite differences. White noise and the converter's steps
are the noise.

In it, as unknowns to be estimated too: C, alpha, height and middle of the
fringes, the first pole, the coupling corner; of a motion all of its course, as a
cubic spline on knots just close enough to hold it within 1 nm; of a ramp the
phase, slope and bend of the power, hop, lag, velocity, table lines (two
quadratures each). The mean of a displacement is taken off. Not in it: hum and 1/f noise (they can only make it worse),
speckle's height (taken as known), which fringe is which.
"""
import numpy as np
from scipy.interpolate import BSpline, LSQUnivariateSpline
from scipy.linalg import cholesky_banded, cho_solve_banded, solve
from scipy.sparse import csc_matrix

from chain import pick

COMMON = ["feedbackParameter", "linewidthEnhancementFactor", "fringe"]


def global_columns(made, pole=True):
    """Derivatives by C, alpha, height, middle, pole and corner."""
    bench, light = made["bench"], made["light"]
    columns = []
    for name in COMMON:
        step = 1e-3 * bench[name]
        sides = [pick(lambda t, v=v: light(t, 0.0, {**bench, name: v}), bench)
                 for v in (bench[name] + step, bench[name] - step)]
        columns.append((sides[0] - sides[1]) / (2 * step))
    columns.append(np.ones(bench["samples"]))
    for change in chain_changes(bench, pole):
        sides = [pick(light, {**bench, **c}) for c in change]
        columns.append((sides[0] - sides[1]) / 0.02)
    return columns


def chain_changes(bench, pole):
    """Pole and corner by a hundredth up and down."""
    first, rest = bench["poles"][:1], bench["poles"][1:]
    if pole and first:
        yield [{"poles": [first[0] * f, *rest]} for f in (1.01, 0.99)]
    if bench["corner"] is not None and not bench["cornerStated"]:
        yield [{"corner": bench["corner"] * f} for f in (1.01, 0.99)]


def knots_of(way):
    """Samples between knots of the coarsest spline within 1 nm (rms)."""
    n = way.size
    i = np.arange(n, dtype=float)
    h = n / 8
    while h > 6:
        inner = np.arange(h, n - h / 2, h)
        fit = LSQUnivariateSpline(i, way, inner)
        if np.sqrt(np.mean((fit(i) - way) ** 2)) < 1e-9:
            break
        h /= 1.5
    return max(4, int(h))


def motion_bound(made):
    """Bound of the displacement, rms over the record, in m."""
    bench = made["bench"]
    n, m, rate = bench["samples"], bench["oversampling"], bench["samplingRate"]
    if n > 80_000 or made["way"] is None:
        return None
    h = knots_of(made["way"])
    # Derivative of each sample by phi0, times the spline, behind the poles: each
    # basis function is nearly even over the fast poles' memory, so that the
    # amplified derivative times the basis will do.
    delta = 0.03
    bare = {**bench, "corner": None}
    slope = (pick(lambda t: made["light"](t, delta), bare)
             - pick(lambda t: made["light"](t, -delta), bare)) / (2 * delta)
    basis = spline_basis(n, h)
    j = csc_matrix(basis.multiply(slope[:, None]))
    j = j / made["sigma"]
    g = np.array(global_columns(made)).T / made["sigma"]
    k = j.shape[1]
    band = np.zeros((4, k))
    full = (j.T @ j).tocsc()
    for o in range(4):
        band[3 - o, o:] = full.diagonal(o)
    # A fringe (rad) for what no sample tells: rest at the top of a fringe.
    band[3] += 1 / (2 * np.pi) ** 2
    factor = cholesky_banded(band)
    cross = np.asarray((j.T @ g))
    inner = cho_solve_banded((factor, False), cross)
    s = g.T @ g - cross.T @ inner
    scale = np.sqrt(np.maximum(np.diag(s), 1e-300))
    random = np.random.default_rng(7)
    total, probes = 0.0, 16
    for _ in range(probes):
        # Without the mean: where it starts no interferometer tells.
        sign = random.choice([-1.0, 1.0], n)
        z = basis.T @ (sign - np.mean(sign))
        a = cho_solve_banded((factor, False), z)
        total += z @ a
        v = (cross.T @ a) / scale
        s_scaled = s / np.outer(scale, scale) + 1e-9 * np.eye(scale.size)
        total += v @ solve(s_scaled, v)
    return float(np.sqrt(total / probes / n) * bench["wavelength"] / (4 * np.pi))


def spline_basis(n, h):
    """Cubic B-splines on knots h samples apart, n by k, sparse."""
    count = int(np.ceil(n / h)) + 3
    knots = h * (np.arange(count + 4) - 3.0)
    return BSpline.design_matrix(np.arange(n, dtype=float), knots, 3).tocsc()


def ramp_bound(made, light_of):
    """Bound of the steps per current over their value (1)."""
    bench = made["bench"]

    def sampled(change):
        return pick(light_of({**bench, **change}), {**bench, **change})

    def along(name, step, read=None):
        value = bench[name] if read is None else read
        return (sampled({name: value + step})
                - sampled({name: value - step})) / (2 * step)

    small = 0.02 / (2 * np.pi * max(bench["steps"], 1))
    columns = [along("tuning", small * bench["tuning"]) * bench["tuning"],
               along("distance", 0.02 * bench["wavelength"] / (4 * np.pi)),
               along("roll", 1e-3)]
    columns[1] *= bench["wavelength"]
    columns += global_columns(made)
    t = np.arange(bench["samples"]) / bench["samplingRate"]
    bare = {**bench, "corner": None}
    delta = 0.03
    slope = (pick(lambda t: made["light"](t, delta), bare)
             - pick(lambda t: made["light"](t, -delta), bare)) / (2 * delta)
    columns.append(slope * t / bench["duration"])
    for line in bench["table"]:
        turn = 2 * np.pi * line["frequency"] * t
        columns += [slope * np.sin(turn), slope * np.cos(turn)]
    if bench["lag"] > 0:
        columns.append(along("lag", 0.01 * bench["lag"]))
    if bench["hop"] is not None:
        for name, step in (("wavelength", 0.02 / (4 * np.pi) * bench[
                "wavelength"] ** 2 / bench["distance"]), ("power", 1e-4)):
            columns.append((sampled({"hop": {**bench["hop"], name: bench[
                "hop"][name] + step}}) - sampled({"hop": {**bench["hop"], name: (
                    bench["hop"][name] - step)}})) / (2 * step))
    j = np.array(columns).T / made["sigma"]
    size = np.sqrt(np.sum(j * j, axis=0))
    fisher = (j / size).T @ (j / size) + 1e-12 * np.eye(j.shape[1])
    return float(np.sqrt(np.linalg.inv(fisher)[0, 0]) / size[0])


def tone_bound(made):
    """Bound of a steady Doppler frequency over its value (1): Rife and Boorstyn
    1974, of the fundamental of the fringe that comes through the chain."""
    bench = made["bench"]
    if bench["motion"] != "constant":
        return None
    y = pick(made["light"], bench)
    n = y.size
    t = np.arange(n) / bench["samplingRate"]
    f = bench["fastestFringe"]
    amplitude = 2 * abs(np.mean((y - np.mean(y)) * np.exp(-2j * np.pi * f * t)))
    u = np.sqrt(24.0 * made["sigma"] ** 2 / (amplitude ** 2 * n * (n * n - 1)))
    return float(u * bench["samplingRate"] / (2 * np.pi) / f)
