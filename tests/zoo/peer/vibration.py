"""Displacement from fringes with ordinary means: filter, extrema, direction by
the lean of the fringes, arccos, and C from the smoothest course (after Bes,
Plantier, Bosch 2006). It knows what the library is told, nothing of the bench.
"""
import numpy as np
from scipy.ndimage import maximum_filter1d, minimum_filter1d, uniform_filter1d
from scipy.optimize import minimize
from scipy.signal import (butter, filtfilt, find_peaks, iirnotch, sosfiltfilt,
                          welch)


class NoFringes(Exception):
    """The script gives up."""


def prepared(y, rate, given):
    """Mains notched, coupling undone where told, low-passed above the fringes;
    and the white noise that is left."""
    y = y - np.median(y)
    # White noise from second differences, and its part below the low-pass.
    noise = np.median(np.abs(np.diff(y, 2))) / 0.6745 / np.sqrt(6)
    if given["couplingCorner"] is not None:
        y = y + 2 * np.pi * given["couplingCorner"] / rate * np.cumsum(
            y - np.mean(y))
        sos = butter(2, max(given["couplingCorner"] / 3, 2 * rate / y.size),
                     "highpass", fs=rate, output="sos")
        y = sosfiltfilt(sos, y)
    if given["mains"] is not None:
        for k in (1, 2, 3):
            if given["mains"] * k < 0.45 * rate:
                b, a = iirnotch(given["mains"] * k, 30, rate)
                y = filtfilt(b, a, y)
    f, density = welch(y, rate, nperseg=min(y.size, 2048))
    floor = np.median(density[-max(8, f.size // 8):])
    seen = np.flatnonzero(density > 6 * floor)
    if seen.size < 2 or np.max(density[1:]) < 10 * floor:
        raise NoFringes("nothing above the noise")
    top = min(f[seen[-1]] * 1.5, 0.45 * rate)
    if top < 0.42 * rate:
        y = sosfiltfilt(butter(3, max(top, 0.02 * rate), fs=rate,
                               output="sos"), y)
        noise *= np.sqrt(2 * top / rate)
    return y, noise


def normalised(y):
    """Fringes from -1 to 1 between running extremes, global where these fail."""
    low, high = np.percentile(y, [0.5, 99.5])
    middle = (low + high) / 2
    crossings = np.flatnonzero(np.diff(np.sign(y - middle)) != 0)
    if crossings.size < 3:
        return (y - middle) / (high - low) * 2
    window = int(min(y.size, 6 * np.percentile(np.diff(crossings), 75) + 8))
    top = uniform_filter1d(maximum_filter1d(y, window), window)
    bottom = uniform_filter1d(minimum_filter1d(y, window), window)
    lost = top - bottom < 0.5 * (high - low)
    top, bottom = np.where(lost, high, top), np.where(lost, low, bottom)
    return (2 * y - top - bottom) / (top - bottom)


def extremes(y, noise):
    """Indices of maxima and minima in turn, down to what the noise allows."""
    least = np.clip(6 * noise, 0.2, 0.8)
    tops = find_peaks(y, prominence=least)[0]
    bottoms = find_peaks(-y, prominence=least)[0]
    at = np.concatenate((tops, bottoms))
    kind = np.concatenate((np.ones(tops.size), -np.ones(bottoms.size)))
    order = np.argsort(at)
    kept = []
    for i, k in zip(at[order], kind[order]):
        if kept and kept[-1][1] == k:
            if k * y[i] > k * y[kept[-1][0]]:
                kept[-1] = (i, k)
        else:
            kept.append((i, k))
    return np.array([i for i, _ in kept], int)


def leans(y, at):
    """Per half-swing: how much steeper it falls than its neighbours rise (log),
    positive where the target recedes."""
    slope = np.abs(np.gradient(y))
    steep = np.log([max(np.max(slope[a:b + 1]), 1e-9)
                    for a, b in zip(at[:-1], at[1:])])
    padded = np.pad(steep, 1, mode="reflect") if steep.size > 1 else np.pad(
        steep, 1, mode="edge")
    excess = steep - (padded[:-2] + padded[2:]) / 2
    return np.where(y[at[1:]] < y[at[:-1]], excess, -excess)


def turn_costs(y, at):
    """What a turning point at each inner extreme costs: little where the fringe
    is not whole, or longer than those around."""
    length = np.log(np.diff(at))
    costs = np.full(at.size, 5.0)
    for e in range(1, at.size - 1):
        around = np.median(length[max(0, e - 4):e + 4])
        longest = max(length[e - 1], length[e]) - around
        costs[e] -= 3 * np.clip(longest, 0, 1.2)
        costs[e] -= 2.5 * np.clip((0.95 - abs(y[at[e]])) / 0.2, 0, 1)
    return np.maximum(costs, 0.2)


def directions(y, at, polarity):
    """Sign of each half-swing, the cheapest in all, and whether the fringes told
    it: the mean lean over its scatter."""
    lean = polarity * leans(y, at)
    scatter = np.median(np.abs(lean)) / 0.6745 + 1e-6
    evidence = np.clip(lean / scatter, -2, 2)
    costs = turn_costs(y, at)
    total = np.array([-evidence[0], evidence[0]])
    back = np.zeros((lean.size, 2), int)
    for i in range(1, lean.size):
        turned = total[::-1] + costs[i]
        back[i] = np.where(turned < total, [1, 0], [0, 1])
        total = np.minimum(total, turned) + [-evidence[i], evidence[i]]
    state = int(np.argmin(total))
    sign = np.empty(lean.size)
    for i in range(lean.size - 1, -1, -1):
        sign[i] = 1 - 2 * state
        state = back[i, state]
    told = np.mean(sign * lean) * np.sqrt(lean.size) > 4 * np.std(lean)
    return sign, told


def unwrapped(y, at, sign):
    """phiF along the record from the half-swings and their signs."""
    theta = np.arccos(np.clip(y, -1, 1))
    # Between turning points every extreme is a whole one, whatever its height.
    turned = np.concatenate(([True], sign[1:] != sign[:-1], [True]))
    full = ~turned | (np.abs(y[at]) >= 0.95)
    corner = np.where(full, np.where(y[at] > 0, 0, np.pi), theta[at])
    phase = np.empty(y.size)
    base = 0.0
    for k, (a, b) in enumerate(zip(at[:-1], at[1:])):
        way = np.clip(np.abs(theta[a:b] - corner[k]), 0,
                      abs(corner[k + 1] - corner[k]))
        phase[a:b] = base + sign[k] * way
        base += sign[k] * abs(corner[k + 1] - corner[k])
    first, last = at[0], at[-1]
    phase[:first] = sign[0] * -np.abs(theta[:first] - corner[0])
    phase[last:] = base + sign[-1] * np.abs(theta[last:] - corner[-1])
    return phase + (0 if y[at[0]] > 0 else np.pi)


def without_feedback(phase, per_fringe):
    """phi0 = phiF + C sin(phiF + atan alpha) of the least summed squared steps."""
    step = max(1, int(per_fringe / 10))
    thin = phase[::step]

    def rough(p):
        c, alpha = p
        if not 0 <= c <= 6 or not 1 <= alpha <= 9:
            return np.inf
        return np.sum(np.diff(thin + c * np.sin(thin + np.arctan(alpha))) ** 2)
    start = min(((c, a) for c in (0, 0.3, 0.7, 1.2, 2, 3, 4)
                 for a in (3, 5)), key=rough)
    c, alpha = minimize(rough, start, method="Nelder-Mead",
                        options={"maxiter": 80}).x
    return phase + c * np.sin(phase + np.arctan(alpha))


def displacement(monitor, rate, given):
    """Displacement in m of each sample, and whether its sign was told."""
    y, noise = prepared(monitor, rate, given)
    noise *= 2 / max(np.ptp(np.percentile(y, [0.5, 99.5])), 1e-300)
    y = normalised(y)
    at = extremes(y, noise)
    if at.size < 4:
        # Less than a fringe or two: the arccos is all there is.
        return np.arccos(np.clip(y, -1, 1)) * given["wavelength"] / (
            4 * np.pi), False
    sign, told = directions(y, at, given["polarity"])
    phase = without_feedback(unwrapped(y, at, sign),
                             2 * np.percentile(np.diff(at), 10))
    return phase * given["wavelength"] / (4 * np.pi), bool(told)
