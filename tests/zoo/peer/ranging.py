"""Steps on a current ramp with ordinary means: each stroke against current, a
spectrum for the start, a least-squares fit of power and sine for the count."""
import numpy as np
from scipy.optimize import curve_fit
from scipy.signal import find_peaks
from scipy.ndimage import uniform_filter1d

from vibration import NoFringes


def strokes(drive):
    """Ranges between the turning points of the drive."""
    smooth = uniform_filter1d(drive, 5)
    span = np.ptp(smooth)
    tops = find_peaks(smooth, prominence=0.6 * span)[0]
    bottoms = find_peaks(-smooth, prominence=0.6 * span)[0]
    turns = np.sort(np.concatenate((tops, bottoms)))
    ends = np.concatenate(([0], turns, [drive.size - 1]))
    longest = np.max(np.diff(ends))
    return [(a, b) for a, b in zip(ends[:-1], ends[1:])
            if b - a > 0.6 * longest and b - a > 14]


def model(x, count, turn, a0, a1, p0, p1, p2, h):
    """Power ramp plus a sine with a second harmonic, its height rising with the
    power; x from -1 to 1."""
    angle = np.pi * count * x + turn
    return (p0 + p1 * x + p2 * x * x
            + (a0 + a1 * x) * (np.cos(angle) + h * np.cos(2 * angle)))


def count(current, signal):
    """Steps over the stroke, and what the fit leaves over the sine's height."""
    low, high = current[0], current[-1]
    x = (2 * current - low - high) / (high - low)
    trend = np.polynomial.Polynomial.fit(x, signal, 3)
    rest = (signal - trend(x)) * np.hanning(x.size)
    grid = np.linspace(-1, 1, x.size)
    order = np.argsort(x)
    even = np.interp(grid, x[order], rest[order])
    power = np.abs(np.fft.rfft(even, 8 * even.size))
    power[:6] = 0
    peak = int(np.argmax(power[:power.size // 2]))
    # Bins of one turn over the whole (zero-padded) length.
    start = max(peak / 8, 0.8)
    height = np.std(signal - trend(x)) * 1.4
    best = None
    for turn in (0, np.pi / 2, np.pi, -np.pi / 2):
        try:
            p, _ = curve_fit(model, x, signal, p0=[
                start, turn, height, 0, np.mean(signal),
                (trend(1) - trend(-1)) / 2, 0, 0], maxfev=400)
        except RuntimeError:
            continue
        left = np.std(signal - model(x, *p))
        if best is None or left < best[1]:
            best = (abs(p[0]), left, abs(p[2]))
    if best is None:
        return np.nan, np.inf
    return best[0], best[1] / max(best[2], 1e-300)


def steps_per_current(monitor, drive):
    """Steps per ampere: the median of the rising strokes and that of the falling
    ones, in the mean, in which a target that creeps cancels."""
    found = {True: [], False: []}
    for a, b in strokes(drive):
        edge = (b - a) // 25 + 1
        i, s = drive[a + edge:b - edge], monitor[a + edge:b - edge]
        # A straight or curved line through the ammeter's noise.
        t = np.linspace(-1, 1, i.size)
        i = np.polynomial.Polynomial.fit(t, i, 5)(t)
        n, left = count(i, s)
        if np.isfinite(n) and left < 3:
            found[bool(i[-1] > i[0])].append(n / abs(i[-1] - i[0]))
    medians = [np.median(ways) for ways in found.values() if ways]
    if not medians:
        raise NoFringes("no stroke has fringes")
    return float(np.mean(medians))
