"""Moderate feedback (C > 1): a jump a fringe, and the jump tells the way.

The light climbs a branch and falls at its end: on a branch phiF runs from
-f - psi to f - psi, f = arccos(-1/C), psi = arctan alpha (after Giuliani, Donati
2005). A jump down is a fringe on, a jump up a fringe back.
"""
import numpy as np
from scipy.ndimage import uniform_filter1d
from scipy.optimize import minimize
from scipy.signal import find_peaks


def levelled(y, noise, window):
    """From -1 to 1 between slow extremes: the two ways fill different halves."""
    n = max(4, int(round(y.size / max(window, 1))))
    ends = np.linspace(0, y.size, n + 1).astype(int)
    middle = (ends[:-1] + ends[1:]) / 2
    top = np.array([np.percentile(y[a:b], 99) for a, b in zip(ends, ends[1:])])
    bottom = np.array([np.percentile(y[a:b], 1) for a, b in zip(ends, ends[1:])])
    whole = np.percentile(top - bottom, 70)
    full = top - bottom > 0.8 * whole
    i = np.arange(y.size)
    top = np.interp(i, middle[full], top[full]) - noise
    bottom = np.interp(i, middle[full], bottom[full]) + noise
    return (2 * y - top - bottom) / np.maximum(top - bottom, 1e-300)


def find_jumps(y, noise, reach):
    """Indices and signs of the jumps: steps of the means before and after that
    stand out from those around; and by how much they do (median)."""
    w = max(1, reach)
    sums = np.concatenate(([0], np.cumsum(y)))
    i = np.arange(2 * w, y.size - 2 * w)
    step = np.zeros(y.size)
    # Mean of w samples from i + 1 on less that of the w up to i - 1.
    step[i] = (sums[i + 1 + w] - sums[i + 1] - sums[i] + sums[i - w]) / w
    scatter = noise * np.sqrt(2 / w)
    peaks = find_peaks(np.abs(step), height=3 * scatter, distance=w + 2)[0]
    if peaks.size < 4:
        return peaks[:0], peaks[:0], 0.0
    least = max(0.35, 4 * scatter, 0.35 * np.percentile(
        np.abs(step[peaks]), 95))
    at = peaks[np.abs(step[peaks]) > least]
    near = at[(at > 2 * w + 2) & (at < y.size - 2 * w - 3)]
    if near.size < 4:
        return at[:0], at[:0], 0.0
    beside = (np.abs(step[near - w - 2]) + np.abs(step[near + w + 2])) / 2
    clear = float(np.median(np.abs(step[near]) / np.hypot(beside, scatter)))
    return at, -np.sign(step[at]).astype(int), clear


def on_branch(part, entered, leaves, noise):
    """phiF on a branch for the signal on it, by how it came and goes (+1, -1)."""
    theta = np.arccos(np.clip(part, -1, 1))
    phase = -theta
    smooth = uniform_filter1d(part, 3) if part.size > 12 else part
    tall = max(0.15, 4 * noise)
    high, low = np.argmax(smooth), np.argmin(smooth)
    if leaves > 0:
        # It leaves over the top.
        last = part.size - 1 - np.argmax(smooth[::-1] >= smooth[high] - noise / 2)
        phase[last:] = theta[last:]
    elif leaves < 0:
        last = part.size - 1 - np.argmax(smooth[::-1] <= smooth[low] + noise / 2)
        phase[last:] = theta[last:] - 2 * np.pi
    if entered < 0 and leaves <= 0 and smooth[high] > 1 - tall:
        phase[:high] = theta[:high]
    elif entered > 0 and leaves >= 0 and smooth[low] < -1 + tall:
        phase[:low] = theta[:low] - 2 * np.pi
    # It turns on the branch: between two tops over it, between two lows below.
    if entered * leaves < 0:
        sign = 1 if entered > 0 else -1
        tops = find_peaks(sign * smooth, prominence=tall, height=1 - tall)[0]
        if tops.size > 1:
            inner = slice(tops[0], tops[-1])
            phase[inner] = theta[inner] if sign > 0 else theta[inner] - 2 * np.pi
    return phase


def by_jumps(y, noise, reach):
    """phiF of each sample, the jumps, and how clear they are; None where there are
    none."""
    at, sign, clear = find_jumps(y, noise, reach)
    if at.size < 4:
        return None
    phase = np.empty(y.size)
    ends = np.concatenate(([0], at, [y.size]))
    ways = np.concatenate(([0], sign, [0]))
    turns = np.concatenate(([0], np.cumsum(sign)))
    for k in range(ends.size - 1):
        a, b = ends[k], ends[k + 1]
        phase[a:b] = 2 * np.pi * turns[k] + on_branch(
            y[a:b], ways[k], ways[k + 1], noise)
    return phase, at, sign, clear


def over_jumps(phase, at, sign):
    """phi0 from phiF, and C: the course goes on over a jump as beside it."""
    gap = np.diff(at)
    same = sign[1:] == sign[:-1]
    # Jumps with one of the same way before, and how far it goes in four samples.
    pick = np.flatnonzero(same & (gap > 8)) + 1
    pick = pick[(at[pick] > 3) & (at[pick] < phase.size - 3)]
    if pick.size < 3:
        pick = np.flatnonzero((at > 3) & (at < phase.size - 3))
        way = np.zeros(pick.size)
    else:
        way = sign[pick] * 2 * np.pi * 4 / gap[pick - 1]
    before, after = phase[at[pick] - 2], phase[at[pick] + 2]

    def breaks(p):
        c, alpha = p
        if not 1 <= c <= 6 or not 1.5 <= alpha <= 8:
            return np.inf
        psi = np.arctan(alpha)
        return np.sum(np.abs(after - before - way + c * (
            np.sin(after + psi) - np.sin(before + psi))))
    start = min(((c, a) for c in (1.1, 1.5, 2, 2.7, 3.5, 4.5) for a in (3, 5)),
                key=breaks)
    c, alpha = minimize(breaks, start, method="Nelder-Mead",
                        options={"maxiter": 80}).x
    course = phase + c * np.sin(phase + np.arctan(alpha))
    kept = np.ones(phase.size, bool)
    for k in (-1, 0, 1):
        kept[np.clip(at + k, 0, phase.size - 1)] = False
    i = np.arange(phase.size)
    return np.interp(i, i[kept], course[kept]), c
