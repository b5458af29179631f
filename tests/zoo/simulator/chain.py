"""From light to numbers: amplifier poles, coupling capacitor, scope.

All filters run at the oversampled rate, each step exact for an input that goes
straight from sample to sample, so that a pole is a pole and an edge an edge; the
scope then picks samples, without a filter of its own.
"""
import numpy as np
from scipy.signal import lfilter


def low_pass(values, corner, rate):
    """First-order low-pass with its -3 dB point at corner (Hz)."""
    x = 1 / rate * 2 * np.pi * corner
    a = np.exp(-x)
    held = -np.expm1(-x) / x
    start = values[..., :1]
    y = lfilter([1 - held, held - a], [1, -a], values - start, axis=-1)
    return y + start


def high_pass(values, corner, rate):
    """First-order high-pass; its capacitor starts charged to the mean."""
    x = 2 * np.pi * corner / rate
    a = np.exp(-x)
    held = -np.expm1(-x) / x
    centred = values - np.mean(values, axis=-1, keepdims=True)
    return centred - lfilter([1 - held, held - a], [1, -a], centred, axis=-1)


def flicker(random, n, rms):
    """1/f noise: white noise shaped by 1/sqrt(f)."""
    spectrum = np.fft.rfft(random.normal(size=n))
    f = np.arange(spectrum.size)
    spectrum[0] = 0
    spectrum[1:] /= np.sqrt(f[1:])
    noise = np.fft.irfft(spectrum, n)
    return noise * rms / np.std(noise)


def hum(random, t, amplitude, mains):
    """Mains hum: fundamental, second and third, the last two weaker."""
    parts = [(1, 1.0), (2, 0.4 * random.uniform()), (3, 0.5 * random.uniform())]
    return amplitude * sum(
        part * np.sin(2 * np.pi * mains * k * t + random.uniform(0, 2 * np.pi))
        for k, part in parts)


def amplify(light, bench, rate):
    """Poles, then coupling capacitor, of an oversampled signal."""
    for pole in bench["poles"]:
        light = low_pass(light, pole, rate)
    if bench["corner"] is not None:
        light = high_pass(light, bench["corner"], rate)
    return light


def pick(light, bench):
    """Amplified and picked: one value per sample of the scope.

    light(t) is called at the oversampled times, a lead before the record too.
    """
    m, rate, n = bench["oversampling"], bench["samplingRate"], bench["samples"]
    slowest = min(bench["poles"], default=np.inf)
    lead = 16 + int(np.ceil(min(2 * rate / slowest, 0.1 * n)))
    t = (np.arange((n + lead) * m) - lead * m) / (rate * m)
    return amplify(light(t), bench, rate * m)[lead * m::m]


def scope(volts, bench, random):
    """Noise, hum and the converter's steps. Returns samples and their noise."""
    n, rate = volts.size, bench["samplingRate"]
    t = np.arange(n) / rate
    sigma = bench["fringe"] / np.sqrt(2) * 10 ** (-bench["snr"] / 20)
    volts = volts + random.normal(0, sigma, n)
    if bench["hum"] > 0:
        volts = volts + hum(random, t, bench["hum"] * bench["fringe"],
                            bench["mains"])
    if bench["flicker"] > 0:
        volts = volts + flicker(random, n, bench["flicker"] * bench["fringe"])
    span = np.ptp(volts)
    step = span / bench["rangeUsed"] / 2 ** bench["bits"]
    # The offset knob puts the middle of the signal anywhere in the range.
    offset = np.round(np.mean(volts) / step) * step
    samples = np.round((volts - offset) / step) * step + offset
    if bench.get("clip", 0) > 0:
        low, high = np.min(samples), np.max(samples)
        cut = bench["clip"] * (high - low)
        samples = np.clip(samples, low, high - cut)
    return samples, float(np.hypot(sigma, step / np.sqrt(12)))
