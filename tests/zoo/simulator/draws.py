"""Seeds and the draws that all kinds of bench share."""
import numpy as np

# Work: looked at while the library is built. Kept: for the count, run once at
# the end of a piece of work, never looked into one by one.
WORK, KEPT = 1000, 777_000
SEEDS = {"work": WORK, "kept": KEPT}

FEEDBACK = [(0.05, 0.3), (0.3, 1), (1, 2), (2, 4.5)]
NOISE = [(8, 16), (16, 25), (25, 40)]


class Draws:
    """Random numbers of one bench."""

    def __init__(self, kind, family, number):
        self.random = np.random.default_rng(
            [SEEDS[kind] + number, sum(ord(c) * 31 ** i for i, c in
                                       enumerate(family)) % 2 ** 31])

    def even(self, low, high):
        return float(self.random.uniform(low, high))

    def log(self, low, high):
        return float(low * (high / low) ** self.random.uniform())

    def chance(self, p):
        return bool(self.random.uniform() < p)

    def whole(self, low, high):
        """low to high, both included."""
        return int(self.random.integers(low, high + 1))

    def one_of(self, values):
        return values[self.whole(0, len(values) - 1)]


def optics(d, feedback, noise):
    """What the laser and the scope are, for classes of C and of noise."""
    low, high = FEEDBACK[feedback]
    c = d.log(low, high)
    snr = d.even(*NOISE[noise])
    return {
        "wavelength": d.one_of([635e-9, 650e-9, 780e-9, 850e-9, 1310e-9]),
        "feedbackParameter": c,
        "linewidthEnhancementFactor": d.even(2, 6),
        "snr": snr,
        "feedbackClass": f"C {low}-{high}",
        "noiseClass": f"{NOISE[noise][0]}-{NOISE[noise][1]} dB",
        "bits": d.one_of([8, 8, 10, 12, 14]),
        "rangeUsed": d.even(0.2, 0.9),
        "fringe": d.log(3e-3, 60e-3),
        "mains": d.one_of([50, 60]),
        "mainsStated": d.chance(0.5),
        "hum": d.log(0.02, 0.6) if d.chance(0.35) else 0.0,
        "flicker": d.log(0.01, 0.15) if d.chance(0.35) else 0.0,
    }


def front_end(d, fastest):
    """One or two poles at 5 to 100 times the fastest fringe rate, in Hz."""
    over = d.log(5, 100)
    poles = [over * fastest]
    if d.chance(0.35):
        poles.append(poles[0] * d.log(1, 4))
    return {"poleOverFringe": over, "poles": poles}


def table(d):
    """Table vibration of 1 to 50 nm at 4 to 70 Hz, taps, drift."""
    return {
        "table": [
            {"amplitude": d.log(1e-9, 50e-9), "frequency": d.log(4, 70),
             "phase": d.even(0, 2 * np.pi)}
            for _ in range(d.whole(1, 2))],
        "tap": {
            "amplitude": d.log(20e-9, 500e-9), "frequency": d.log(150, 400),
            "decay": d.log(3e-3, 20e-3), "at": d.even(0.1, 0.9),
        } if d.chance(0.15) else None,
        "drift": d.log(30e-9, 2e-6) * d.one_of([-1, 1])
        if d.chance(0.5) else 0.0,
    }


def shaken(t, bench, duration):
    """What table, tap and drift add to the distance, in m."""
    x = bench["drift"] * t / duration
    for line in bench["table"]:
        x = x + line["amplitude"] * np.sin(
            2 * np.pi * line["frequency"] * t + line["phase"])
    tap = bench["tap"]
    if tap is not None:
        after = np.maximum(t - tap["at"] * duration, 0)
        x = x + tap["amplitude"] * np.exp(-after / tap["decay"]) * np.sin(
            2 * np.pi * tap["frequency"] * after)
    return x
