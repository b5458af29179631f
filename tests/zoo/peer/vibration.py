"""Displacement from fringes with ordinary means: filter, running envelope, the
crossings of the middle, which of them belong to a turning point (turning_points),
arccos between them, and C from the smoothest course (after Bes, Plantier, Bosch
2006). It knows what the library is told, nothing of the bench.
"""
import numpy as np
from scipy.ndimage import median_filter, percentile_filter, uniform_filter1d
from scipy.optimize import minimize
from scipy.signal import (butter, filtfilt, find_peaks, iirnotch, sosfiltfilt,
                          welch)

from jumps import by_jumps, levelled, over_jumps
from turning_points import decode


# So many take the histories a minute.
MOST_CROSSINGS = 40_000


class NoFringes(Exception):
    """The script gives up."""


def prepared(y, rate, given):
    """Mains notched, coupling undone where told, low-passed above the fringes;
    and the white noise that is left."""
    y = y - np.median(y)
    if given["couplingCorner"] is not None:
        # Undone, and what that does to the offset taken off again.
        y = y + 2 * np.pi * given["couplingCorner"] / rate * np.cumsum(
            y - np.mean(y))
        y = y - np.polynomial.Polynomial.fit(np.arange(y.size), y, 3)(
            np.arange(y.size))
    if given["mains"] is not None:
        for k in (1, 2, 3):
            if given["mains"] * k < 0.45 * rate:
                b, a = iirnotch(given["mains"] * k, 30, rate)
                y = filtfilt(b, a, y)
    f, density = welch(y, rate, nperseg=min(y.size, 2048))
    floor = np.median(density[-max(8, f.size // 8):])
    noise = np.sqrt(floor * rate / 2)
    seen = np.flatnonzero(density > 4 * floor)
    if seen.size < 2 or np.max(density[1:]) < 10 * floor:
        raise NoFringes("nothing above the noise")
    top = min(f[seen[-1]] * 1.3, 0.45 * rate)
    if top < 0.4 * rate:
        y = sosfiltfilt(butter(3, max(top, 0.02 * rate), fs=rate,
                               output="sos"), y)
        noise *= np.sqrt(2 * top / rate)
    return y, noise


def envelope(y, least):
    """Height of the tops along the record: those that are lower than their
    neighbours are turning points, and no tops."""
    tops = find_peaks(y, prominence=least)[0]
    if tops.size < 8:
        return None
    high = percentile_filter(y[tops], 70, size=9, mode="nearest")
    return np.interp(np.arange(y.size), tops, uniform_filter1d(high, 3))


def normalised(y, noise):
    """Fringes from -1 to 1 between running extremes, global where these fail."""
    low, high = np.percentile(y, [1, 99])
    least = max(5 * noise, 0.3 * (high - low))
    top, bottom = envelope(y, least), envelope(-y, least)
    if top is None or bottom is None:
        return (2 * y - low - high) / (high - low)
    # The extremes of a noisy curve lie outside of it.
    top, bottom = top - noise, -bottom + noise
    lost = top - bottom < 0.6 * (high - low)
    top, bottom = np.where(lost, high, top), np.where(lost, low, bottom)
    return (2 * y - top - bottom) / (top - bottom)


def crossings_of(y, least):
    """Times of the crossings of the middle, and whether it falls there, where y
    goes from beyond least to beyond least on the other side."""
    far = np.flatnonzero(np.abs(y) > least)
    change = np.flatnonzero(np.diff(np.sign(y[far])) != 0)
    at, falls = [], []
    for a, b in zip(far[change], far[change + 1]):
        part = y[a:b + 1]
        k = np.flatnonzero(np.sign(part[:-1]) != np.sign(part[1:]))
        k = k[k.size // 2]
        at.append(a + k + part[k] / (part[k] - part[k + 1]))
        falls.append(part[0] > 0)
    return np.array(at), np.array(falls, bool)


def phases(y, at, order, sign, noise):
    """phiF of each sample; order and sign of each crossing as decode() says:
    phiF = pi/2 + pi order there, with sign going on."""
    phase = np.empty(y.size)
    ends = np.concatenate(([0], np.ceil(at).astype(int), [y.size]))
    for k in range(ends.size - 1):
        a, b = ends[k], ends[k + 1]
        if a == b:
            continue
        # The middle of the half-fringe, and which way from there.
        first = k == 0
        s = -sign[0] if first else sign[k - 1]
        centre = np.pi / 2 * (1 + 2 * (order[0] if first else order[k - 1]) + s)
        up = np.cos(centre)
        part = up * y[a:b]
        theta = np.arccos(np.clip(part, -1, 1))
        side = np.full(b - a, -s)
        inner = 0 < k < ends.size - 2
        if inner and order[k] != order[k - 1]:
            side[int(np.mean(np.flatnonzero(part >= np.max(part) - noise))):] = s
        else:
            # It turns here: between two tops it was on the other side.
            tops = find_peaks(part, prominence=max(4 * noise, 0.08),
                              height=0.6)[0]
            if tops.size > 1 and inner:
                side[tops[0]:tops[-1]] = s
        phase[a:b] = centre + side * theta
    return phase


def moving(at, size):
    """Which samples lie where fringes follow each other fast."""
    gap = np.diff(at)
    fast = np.flatnonzero(gap < 2.5 * np.percentile(gap, 30))
    mask = np.zeros(size, bool)
    for k in fast:
        mask[int(at[k]):int(at[k + 1]) + 1] = True
    return mask


def roughness(course, moves, step):
    """Bends over way, where it moves."""
    thin, there = course[::step], moves[::step]
    bends = np.abs(np.diff(thin, 2))[there[1:-1]]
    return np.sum(bends) / np.sum(np.abs(np.diff(thin))[there[1:]])


def without_feedback(phase, moves, step, first):
    """phi0 = phiF + C sin(phiF + atan alpha) of the least bends; and C,
    which is no less than the lean says."""
    def rough(p):
        c, alpha = p
        if not 0.9 * first <= c <= 6 or not 1 <= alpha <= 9:
            return np.inf
        thin, there = phase[::step], moves[::step]
        course = thin + c * np.sin(thin + np.arctan(alpha))
        return np.sum(np.abs(np.diff(course, 2))[there[1:-1]])
    start = min(((c, a) for c in (first, 0.3, 0.7, 1.2, 2) for a in (3, 5)),
                key=rough)
    c, alpha = minimize(rough, start, method="Nelder-Mead",
                        options={"maxiter": 80}).x
    return phase + c * np.sin(phase + np.arctan(alpha)), c


def displacement(monitor, rate, given):
    """Displacement in m of each sample, and whether its sign was told."""
    y, noise = prepared(monitor, rate, given)
    height = np.ptp(np.percentile(y, [1, 99])) / 2
    run = normalised(y, noise)
    noise /= max(height, 1e-300)
    at, falls = crossings_of(run, np.clip(3 * noise, 0.2, 0.5))
    scale = given["polarity"] * given["wavelength"] / (4 * np.pi)
    if at.size < 6:
        # Less than a fringe or two: the arccos is all there is.
        return np.arccos(np.clip(run, -1, 1)) * scale, False
    if at.size > MOST_CROSSINGS:
        raise NoFringes(f"{at.size} crossings take too long")
    per_fringe = 2 * np.percentile(np.diff(at), 10)
    order, sign, told, c = decode(run, at, falls, noise)
    phase = phases(run, at, order, sign, noise)
    moves = moving(at, y.size)
    step = max(1, int(per_fringe / 8))
    course, c = without_feedback(phase, moves, step, c)
    level = levelled(y, noise * height, y.size / 6)
    jumps = max((by_jumps(level, noise, reach) or (None, None, None, 0.0)
                 for reach in {1, max(1, int(per_fringe / 10))}),
                key=lambda found: found[3])
    if jumps[3] > 2.5:
        other, strong = over_jumps(*jumps[:3])
        # Strong feedback leaves no crossings on one of the ways.
        if (strong > 1.6 and jumps[3] > 4.4) or (
                roughness(other, moves, step)
                < 0.78 * roughness(course, moves, step)):
            course, told = other, True
    smooth = int(per_fringe / 4) // 2 * 2 + 1
    return median_filter(course, smooth) * scale, told
