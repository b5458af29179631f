"""Benches with a running surface: draws, light, truth."""
import numpy as np

from chain import pick, scope
from draws import Draws, front_end, optics
from excess_phase import feedback_phase

KINDS = ["constant", "broadened", "swept", "reversing"]


def draw(kind, number, family="speed"):
    d = Draws(kind, family, number)
    what = KINDS[number % 4]
    feedback, noise = number // 4 % 3, (number // 12 + number) % 3
    bench = {"family": family, "motion": what, **optics(d, feedback, noise)}
    angle = d.even(0, 80) if what == "broadened" else d.even(0, 60)
    angle = np.radians(angle)
    speed = d.log(3e-3, 1.0)
    doppler = 2 * speed * np.cos(angle) / bench["wavelength"]
    spf = d.log(4, 20)
    samples = d.whole(16_000, 60_000)
    rate = doppler * spf
    bench.update({
        "angle": float(angle), "speed": speed, "samplingRate": rate,
        "samples": samples, "fastestFringe": doppler, "samplesPerFringe": spf,
        "oversampling": int(np.clip(np.ceil(160 / spf), 8, 40)),
        "duration": samples / rate, "periods": samples / spf,
        **front_end(d, doppler),
        "corner": doppler / d.log(30, 3000) if d.chance(0.5) else None,
        "cornerStated": False, "sense": d.one_of([-1, 1]),
        "sweep": d.even(0.2, 0.9), "reversals": d.even(0.6, 2.5),
        "start": d.even(0, 1),
        # Grains of speckle that pass during the record.
        "grains": d.log(15, 300) if what == "broadened" else 0,
        "speckle": None,
    })
    return bench, d


def course(t, bench):
    """Way of the surface along its own direction, m, and its speed, m/s."""
    v, duration = bench["speed"], bench["duration"]
    if bench["motion"] == "swept":
        # From (1 - sweep) v up to v.
        rise = bench["sweep"] * v / duration
        first = v * (1 - bench["sweep"])
        return first * t + rise * t * t / 2, first + rise * t
    if bench["motion"] == "reversing":
        turn = 2 * np.pi * bench["reversals"] / duration
        at = turn * t + 2 * np.pi * bench["start"]
        return v / turn * np.sin(at), v * np.cos(at)
    return v * t, np.full(t.shape, v)


def make(kind, number, family="speed", change=None):
    bench, d = draw(kind, number, family)
    if change is not None:
        change(bench)
    noise = np.random.default_rng(d.random.integers(2 ** 60))
    scale = bench["sense"] * 4 * np.pi / bench["wavelength"] * np.cos(
        bench["angle"])
    field = None
    if bench["grains"]:
        # Field over the way: a sum of waves with a Gaussian spread, as of a
        # Gaussian beam on a rough surface (Goodman 1975).
        length = bench["speed"] * bench["duration"] / bench["grains"]
        q = d.random.normal(0, 1 / length, 48)
        turn = d.random.uniform(0, 2 * np.pi, 48)
        height = d.random.rayleigh(1, 48) / np.sqrt(96)

        def field(way):
            return sum(h * np.exp(1j * (a * way + b))
                       for a, b, h in zip(q, turn, height))

    def light(t, shift=0.0, values=bench):
        way, _ = course(t, bench)
        phase, h = scale * way + shift, 1.0
        if field is not None:
            back = field(way)
            phase, h = phase + np.unwrap(np.angle(back)), np.abs(back)
        return 2 + values["fringe"] * h * np.cos(feedback_phase(
            phase, values["feedbackParameter"] * h,
            values["linewidthEnhancementFactor"]))

    samples, sigma = scope(pick(light, bench), bench, noise)
    t = np.arange(bench["samples"]) / bench["samplingRate"]
    _, speed = course(t, bench)
    truth = {"speed": float(np.mean(np.abs(speed)))}
    return {"bench": bench, "monitor": samples, "drive": None, "way": None,
            "speed": bench["sense"] * speed, "light": light, "sigma": sigma,
            "truth": truth}
