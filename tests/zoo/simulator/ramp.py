"""Benches with a ramped current: draws, light, truth."""
import numpy as np

from chain import low_pass, pick, scope
from draws import Draws, front_end, optics, shaken, table
from excess_phase import feedback_phase
from moving import POINTS_PER_FRINGE

KINDS = ["plain", "hop", "lag", "table", "sine", "sawtooth", "negative",
         "power"]
THRESHOLD, INDEX = 0.02, 1.00027


def draw(kind, number, family="range"):
    d = Draws(kind, family, number)
    what = KINDS[number % 8]
    feedback, noise = number // 8 % 4, (number // 32 + number) % 3
    bench = {"family": family, "motion": what,
             **optics(d, feedback, noise), **table(d)}
    wavelength = bench["wavelength"]
    if what != "table":
        # Of a heavy table; a bench on a shaky one is its own kind.
        for line in bench["table"]:
            line["amplitude"] = min(line["amplitude"], 3e-9)
        bench["tap"], bench["drift"] = None, 0.0
    few = 5 if what == "hop" else 1
    while True:
        steps, distance = d.log(few, 60), d.log(0.03, 1.0)
        tuning = d.log(2e-9, 15e-9)
        span = steps * wavelength ** 2 / (2 * INDEX * distance * tuning)
        if 0.3e-3 < span < 20e-3:
            break
    middle = THRESHOLD + span / 2 + d.log(3e-3, 25e-3)
    if what == "power":
        middle = THRESHOLD + span / 2 + d.log(0.5e-3, 3e-3)
    frequency = d.log(5, 200)
    ramps = d.even(3.2, 8)
    spf = d.log(10, 60)
    shape = what if what in ("sine", "sawtooth") else "triangle"
    slope = {"triangle": 2, "sawtooth": 1 / 0.95, "sine": np.pi}[shape]
    fastest = steps * slope * frequency
    rate = spf * fastest
    samples = int(np.clip(ramps / frequency * rate, 3e3, 4e4))
    ramps = samples * frequency / rate
    if ramps < 2.3:
        ramps = 2.3
        rate = samples * frequency / ramps
    # A hop: fast enough against the drive to be an edge.
    hop = None
    if what == "hop":
        hop = {"at": d.even(0.2, 0.8), "play": d.even(0, 0.05),
               "wavelength": d.even(0.05e-9, 0.3e-9) * d.one_of([-1, 1]),
               "power": d.log(0.005, 0.04) * d.one_of([-1, 1])}
    bench.update({
        "steps": steps, "distance": distance, "shape": shape,
        "tuning": -tuning if what == "negative" else tuning,
        "low": middle - span / 2, "high": middle + span / 2,
        "frequency": frequency, "start": d.even(0, 1), "periods": ramps,
        "samplingRate": rate, "samples": samples,
        "fastestFringe": fastest, "samplesPerFringe": rate / fastest,
        "oversampling": int(np.clip(np.ceil(
            POINTS_PER_FRINGE * fastest / rate), 4, 64)),
        **front_end(d, fastest),
        "corner": frequency / d.log(5, 100) if d.chance(0.25) else None,
        "cornerStated": False,
        "lag": d.log(0.005, 0.1) / frequency if what == "lag" else 0.0,
        # A target that creeps, its Doppler rate well below the fringe rate.
        "velocity": d.one_of([-1, 1]) * d.log(0.01, 0.2) * fastest / slope
        * wavelength if what in ("negative", "plain") else 0.0,
        "hop": hop, "roll": d.even(0, 0.15), "speckle": None,
        "duration": samples / rate,
    })
    # Parts of the power at the middle of the ramp; the power's slope fills the
    # converter, of which a fringe must keep a few steps.
    bench["fringe"] = d.log(2e-3, 2e-2)
    swing = span / (middle - THRESHOLD)
    while (swing / bench["rangeUsed"] / 2 ** bench["bits"]
           > bench["fringe"] / 2):
        bench["bits"] += 1
    return bench, d


def current(t, bench):
    """Drive current in A."""
    x = (t * bench["frequency"] + bench["start"]) % 1
    if bench["shape"] == "sine":
        part = (1 - np.cos(2 * np.pi * x)) / 2
    elif bench["shape"] == "sawtooth":
        part = np.where(x < 0.95, x / 0.95, (1 - x) / 0.05)
    else:
        part = 1 - np.abs(2 * x - 1)
    return bench["low"] + (bench["high"] - bench["low"]) * part


def hopped(part, hop):
    """Whether the mode has hopped (0 or 1), with play, along part of the span."""
    if hop is None:
        return np.zeros(part.shape)
    state = np.where(part > hop["at"] + hop["play"] / 2, 1.0,
                     np.where(part < hop["at"] - hop["play"] / 2, 0.0, np.nan))
    last = np.maximum.accumulate(np.where(np.isnan(state), 0,
                                          np.arange(part.size)))
    return np.nan_to_num(state[last])


def optical(t, bench):
    """phi0 in rad and the power over that at the middle of the ramp."""
    i = current(t, bench)
    span = bench["high"] - bench["low"]
    middle = (bench["high"] + bench["low"]) / 2
    seen = i
    if bench["lag"] > 0:
        # Settled: the first-order lag of the periodic drive, two periods before.
        rate = (t.size - 1) / (t[-1] - t[0])
        before = t[0] - np.arange(int(2 * rate / bench["frequency"]), 0, -1) / rate
        seen = low_pass(current(np.concatenate((before, t)), bench),
                        1 / (2 * np.pi * bench["lag"]), rate)[before.size:]
    hop = bench["hop"]
    up = hopped((i - bench["low"]) / span, hop)
    wavelength = bench["wavelength"] + bench["tuning"] * (seen - middle)
    power = (i - THRESHOLD) * (1 - bench["roll"] * (i - THRESHOLD) / (
        bench["high"] - THRESHOLD))
    power = power / ((middle - THRESHOLD) * (1 - bench["roll"] * (
        middle - THRESHOLD) / (bench["high"] - THRESHOLD)))
    if hop is not None:
        wavelength = wavelength + up * hop["wavelength"]
        power = power * (1 + up * hop["power"])
    length = bench["distance"] + bench["velocity"] * t + shaken(
        t, bench, bench["duration"])
    return 4 * np.pi * INDEX * length / wavelength, power


def light_of(bench):
    """The light over oversampled time; values and shift may be others."""
    def light(t, shift=0.0, values=bench):
        phase, power = optical(t, values)
        seen = 0.0 if bench.get("dark") else values["fringe"]
        return power * (1 + seen * np.cos(feedback_phase(
            phase + shift, values["feedbackParameter"],
            values["linewidthEnhancementFactor"])))
    return light


def make(kind, number, family="range", change=None):
    bench, d = draw(kind, number, family)
    if change is not None:
        change(bench)
    noise = np.random.default_rng(d.random.integers(2 ** 60))
    light = light_of(bench)
    samples, sigma = scope(pick(light, bench), bench, noise)
    t = np.arange(bench["samples"]) / bench["samplingRate"]
    # The ammeter: a tenth of a percent of the span, ten bits and more.
    drive = current(t, bench) + noise.normal(
        0, 1e-3 * (bench["high"] - bench["low"]), t.size)
    middle = (bench["high"] + bench["low"]) / 2
    ends = bench["wavelength"] + bench["tuning"] * (
        np.array([bench["low"], bench["high"]]) - middle)
    steps = abs(2 * INDEX * bench["distance"] * (1 / ends[0] - 1 / ends[1]))
    truth = {
        "stepsPerCurrent": steps / (bench["high"] - bench["low"]),
        "distance": bench["distance"],
        "feedbackParameter": bench["feedbackParameter"],
        "hops": 0 if bench["hop"] is None else 1,
        **({"velocity": bench["velocity"]} if bench["velocity"] else {}),
    }
    return {"bench": bench, "monitor": samples, "drive": drive, "way": None,
            "light": light, "sigma": sigma, "truth": truth}
