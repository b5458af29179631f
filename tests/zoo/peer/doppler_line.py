"""Speed from the Doppler line with ordinary means: peak of a spectrum."""
import numpy as np
from scipy.signal import periodogram, spectrogram, welch

from vibration import NoFringes


def peak(f, density, mains):
    """Highest line past 1/f and mains, with a parabola through its logarithm."""
    usable = f > 20 * f[1]
    for k in range(1, 8):
        usable &= np.abs(f - k * mains) > 2 * f[1]
    density = np.where(usable, density, 0)
    k = int(np.argmax(density))
    floor = np.median(density[usable])
    if density[k] < 8 * floor or k < 1 or k > f.size - 2:
        raise NoFringes("no line")
    a, b, c = np.log(np.maximum(density[k - 1:k + 2], 1e-300))
    return k, f[k] + f[1] * 0.5 * (a - c) / (a - 2 * b + c), floor


def steady(y, rate, mains):
    """Frequency of a line that stays: interpolated peak, or the middle of a wide
    line above half its height."""
    f, density = periodogram(y - np.mean(y), rate, window="hann")
    _, fine, _ = peak(f, density, mains)
    g, smooth = welch(y - np.mean(y), rate, nperseg=min(y.size, 4096))
    k, coarse, floor = peak(g, smooth, mains)
    near = np.abs(g - g[k]) < 0.3 * g[k]
    high = near & (smooth - floor > 0.3 * (smooth[k] - floor))
    if np.count_nonzero(high) > 6:
        return float(np.sum(g[high] * smooth[high]) / np.sum(smooth[high]))
    return float(fine if abs(fine - coarse) < 3 * g[1] else coarse)


def course(y, rate, mains):
    """Frequency over time: the ridge of the spectrogram, without sign."""
    size = int(min(y.size // 16, 1024))
    f, t, density = spectrogram(y - np.mean(y), rate, window="hann",
                                nperseg=size, noverlap=size // 2)
    density[:3] = 0
    floor = np.median(density)
    k = np.argmax(density, axis=0)
    height = density[k, np.arange(t.size)]
    found = np.where(height > 10 * floor, f[k], np.nan)
    inner = np.clip(k, 1, f.size - 2)
    a, b, c = (np.log(np.maximum(density[inner + o, np.arange(t.size)], 1e-300))
               for o in (-1, 0, 1))
    with np.errstate(invalid="ignore", divide="ignore"):
        found = found + f[1] * np.clip(0.5 * (a - c) / (a - 2 * b + c), -1, 1)
    if not np.any(np.isfinite(found)):
        raise NoFringes("no line")
    return t, found
