"""Courses of a moving target: x(t) in m for peak amplitude 1 and 1 Hz."""
import numpy as np

TURN = 2 * np.pi
PERIODIC = ["sine", "triangle", "lopsided", "square", "two-tone"]
MOTIONS = ["sine", "triangle", "lopsided", "square", "random", "two-tone",
           "step", "ring-down", "small"]


def make_motion(d, kind, periods):
    """A function of time in periods, peak about 1, and what is true of it.

    True: the amplitude of the fundamental for those with one; of a decay its
    quality factor, at one natural period per unit of time.
    """
    if kind in ("step", "ring-down"):
        return released(d, kind, periods)
    turn = d.even(0, TURN)
    if kind in ("sine", "small"):
        return lambda t: np.sin(TURN * t + turn), {"fundamental": 1.0}
    if kind == "triangle":
        # Corners rounded as a piezo's: harmonics up to the 15th, the last weaker.
        orders = np.arange(1, 16, 2)
        heights = 8 / np.pi ** 2 / orders ** 2 * np.sinc(orders / 24)

        def triangle(t):
            return sum(h * np.cos(k * (TURN * t + turn))
                       for k, h in zip(orders, heights))
        return triangle, {"fundamental": float(heights[0])}
    if kind == "lopsided":
        part, lag = d.even(0.15, 0.45), d.even(0, TURN)
        scale = 1 / (1 + part)
        return (lambda t: scale * (np.sin(TURN * t + turn) + part * np.sin(
            2 * (TURN * t + turn) + lag))), {"fundamental": scale}
    if kind == "square":
        edge = d.even(4, 10)
        return (lambda t: np.tanh(edge * np.sin(TURN * t + turn))), {}
    if kind == "two-tone":
        ratio, part = d.even(1.2, 4.7), d.even(0.2, 0.7)
        other = d.even(0, TURN)
        scale = 1 / (1 + part)
        return (lambda t: scale * (np.sin(TURN * t + turn) + part * np.sin(
            TURN * ratio * t + other))), {"fundamental": scale}
    # Random: tones all over the band up to 1, as many as tell nothing apart.
    lines = max(12, min(60, int(periods) * 2))
    f = d.random.uniform(0.1, 1, lines)
    turns = d.random.uniform(0, TURN, lines)
    heights = d.random.rayleigh(1, lines) / np.sqrt(lines) / 1.7
    return (lambda t: sum(h * np.sin(TURN * v * t + p)
                          for h, v, p in zip(heights, f, turns))), {}


def released(d, kind, periods):
    """At rest, then a step or a blow, then a tail below a fringe."""
    start = periods * d.even(0.08, 0.3)
    ringing = periods - start
    # Decays by e^-2.5 to e^-6 within the record.
    quality = (np.pi * ringing / d.even(2.5, 6) if kind == "ring-down"
               else d.even(0.5, 2.5))
    damping = 1 / (2 * quality)
    damped = TURN * np.sqrt(max(1 - damping ** 2, 1e-4))
    decay = TURN * damping

    def course(t):
        after = np.maximum(t - start, 0)
        wave = np.exp(-decay * after)
        if kind == "ring-down":
            return wave * np.sin(damped * after)
        return 1 - wave * (np.cos(damped * after)
                           + decay / damped * np.sin(damped * after))
    truth = {"start": start}
    if kind == "ring-down":
        truth["qualityFactor"] = float(quality)
        truth["natural"] = float(np.hypot(damped, decay) / TURN)
    return course, truth
