"""Benches with a moving target: draws, light, truth."""
import numpy as np

from chain import pick, scope
from draws import Draws, front_end, optics, shaken, table
from excess_phase import feedback_phase
from motions import MOTIONS, make_motion

POINTS_PER_FRINGE = 512


def draw(kind, number, family="motion"):
    d = Draws(kind, family, number)
    motion = MOTIONS[number % 9]
    feedback, noise = number // 9 % 4, (number // 36 + number) % 3
    bench = {"family": family, "motion": motion,
             **optics(d, feedback, noise), **table(d)}
    half = bench["wavelength"] / 2
    spf = d.log(8, 40)
    samples = d.log(6e3, 3e4)
    periods = d.log(80, 400) if d.chance(0.15) else d.log(8, 60)
    if motion in ("step", "ring-down"):
        periods = d.log(4, 20) if motion == "step" else d.log(12, 80)
    long = number % 108 in (40, 100)
    if long:
        # The few of many periods: swings below half a fringe, sampled thinly.
        periods = 1e5 if number % 108 == 40 else 1e4
        amplitude = half * d.even(0.15, 0.5)
        bench["motion"] = motion = "small"
        spf = 9 * half / (2 * np.pi * amplitude)
        spf = max(spf, 8)
        samples = periods * spf * 2 * np.pi * amplitude / half
    elif motion == "small":
        amplitude = half * d.log(0.1, 1)
    else:
        # Fastest about 2 pi A f (more for a square), in fringes.
        amplitude = half * samples / (spf * 2 * np.pi * periods)
        amplitude = min(max(amplitude, 0.8 * half), 30 * half)
    frequency = d.log(5, 500)
    course, truth = make_motion(d, motion, periods)
    grid = np.linspace(0, periods, 40_001)
    speed = np.max(np.abs(np.diff(course(grid)))) / (grid[1] - grid[0])
    if motion == "small" or long:
        speed = 2 * np.pi
    fastest = speed * amplitude * frequency / half
    rate = spf * fastest
    if motion in ("small", "random") and not long:
        # Enough samples a period to see it at all.
        rate = max(rate, 24 * frequency)
    duration = periods / frequency
    n = int(duration * rate)
    # Short ones last longer, long ones are cut.
    if not long and motion not in ("step", "ring-down"):
        wanted = int(np.clip(n, 6e3, 3e4))
        periods *= wanted / n
        n = wanted
    elif not long and n > 60_000:
        rate *= 60_000 / n
        n = 60_000
    calm(bench, 0.3 * fastest * half)
    bench.update({
        "amplitude": amplitude, "frequency": frequency, "periods": periods,
        "samplingRate": rate, "samples": n, "fastestFringe": fastest,
        "samplesPerFringe": rate / fastest,
        "oversampling": int(np.clip(np.ceil(
            POINTS_PER_FRINGE * fastest / rate), 4, 64)),
        **front_end(d, fastest),
        "corner": d.log(frequency / 50, 3 * frequency) if d.chance(0.4)
        else None,
        "cornerStated": d.chance(0.5),
        "restUntil": 0.0, "restFrom": np.inf,
        "speckle": {
            "contrast": d.even(0.2, 0.6), "length": amplitude * d.log(3, 20),
            "dropOuts": d.chance(0.4),
        } if d.chance(0.2) and not long else None,
    })
    bench["duration"] = n / rate
    if motion in ("sine", "triangle", "lopsided") and d.chance(0.2):
        bench["restUntil"] = d.even(0.05, 0.2) * bench["duration"]
        bench["restFrom"] = d.even(0.8, 0.95) * bench["duration"]
    bench["truth"] = truth
    return bench, course, d


def calm(bench, most):
    """Table and tap no faster than most (m/s): the target moves, not the table."""
    for line in bench["table"] + [bench["tap"] or {}]:
        if line:
            line["amplitude"] = min(line["amplitude"],
                                    most / (2 * np.pi * line["frequency"]))


def displacement(bench, course):
    """x(t) in m, from the table and all."""
    duration = bench["duration"]

    def x(t):
        at = np.clip(t, bench["restUntil"], bench["restFrom"])
        return (bench["amplitude"] * course(at * bench["frequency"])
                + shaken(t, bench, duration))
    return x


def speckle_field(bench, d):
    """Complex field of the returning light along the way, 1 on a mirror."""
    speckle = bench["speckle"]
    if speckle is None:
        return None
    k = 16
    q = d.random.normal(0, 1 / speckle["length"], k)
    turn = d.random.uniform(0, 2 * np.pi, k)
    height = d.random.rayleigh(1, k) / np.sqrt(2 * k)
    steady = 0.0 if speckle["dropOuts"] else 1 - speckle["contrast"]
    moving = 1.0 if speckle["dropOuts"] else speckle["contrast"]

    def field(x):
        total = np.full(x.shape, steady, complex)
        for a, b, h in zip(q, turn, height):
            total += moving * h * np.exp(1j * (a * x + b))
        return total
    return field


def make(kind, number, family="motion", change=None):
    bench, course, d = draw(kind, number, family)
    if change is not None:
        change(bench)
    seen = 0.0 if bench.get("dark") else 1.0
    x = displacement(bench, course)
    field = speckle_field(bench, d)
    start = d.even(0, 2 * np.pi)
    noise = np.random.default_rng(d.random.integers(2 ** 60))
    scale = 4 * np.pi / bench["wavelength"]

    def optical(t):
        """phi0 in rad and the height of the field."""
        way = x(t)
        phase = start + scale * way
        if field is None:
            return phase, 1.0
        back = field(way)
        return phase + np.unwrap(np.angle(back)), np.abs(back)

    def light(t, shift=0.0, values=bench):
        phase, height = optical(t)
        c = values["feedbackParameter"] * height
        return 2 + seen * values["fringe"] * height * np.cos(feedback_phase(
            phase + shift, c, values["linewidthEnhancementFactor"]))

    t = np.arange(bench["samples"]) / bench["samplingRate"]
    samples, sigma = scope(pick(light, bench), bench, noise)
    # The way that the light tells: with the phase of the speckle.
    way = (optical(t)[0] - start) / scale
    return {"bench": bench, "monitor": samples, "drive": None, "way": way,
            "light": light, "sigma": sigma, "truth": truths(bench, way)}


def truths(bench, way):
    """True values of what has an interval, SI units."""
    of = bench["truth"]
    truth = {"netDisplacement": float(way[-1] - way[0]),
             "peakToPeak": float(np.ptp(way))}
    if bench["speckle"] is None:
        truth["feedbackParameter"] = bench["feedbackParameter"]
        truth["linewidthEnhancementFactor"] = bench[
            "linewidthEnhancementFactor"]
    if "fundamental" in of and bench["restUntil"] == 0:
        truth["amplitude"] = bench["amplitude"] * of["fundamental"]
        truth["frequency"] = bench["frequency"]
    if "qualityFactor" in of:
        truth["qualityFactor"] = of["qualityFactor"]
        truth["naturalFrequency"] = of["natural"] * bench["frequency"]
    return truth
