"""A bench of its own, to check the library against something that shares no
line of code with it: NumPy and SciPy solve the published equations and write
small captures with their truth.

    python3 make_captures.py

Excess-phase equation phi0 = phiF + C sin(phiF + arctan alpha), Lang and
Kobayashi 1980; power P = P0 (1 + m cos phiF), phi0 = 4 pi n L / lambda.
The root of each sample is where the phase relaxes to from the root before,
dx/dt = phi0 - x - C sin(x + arctan alpha), solved by scipy.optimize.brentq
between the equation's turning points. Speckle: the sum of the fields of random
scatterers that cross a Gaussian beam (Goodman 1975).
"""
import json
import pathlib

import numpy as np
from scipy.optimize import brentq

here = pathlib.Path(__file__).parent / "fixtures"
random = np.random.default_rng(20261126)
truths = {}


def feedback_phase(phase, c, alpha):
    """Roots phiF along phi0, by relaxation from root to root."""
    psi = np.arctan(alpha)

    def excess(x, at):
        return x + c * np.sin(x + psi) - at

    # Turning points of phi0(phiF) lie where 1 + C cos(phiF + psi) = 0.
    fold = np.arccos(-1 / c) if c > 1 else np.pi
    roots = np.empty_like(phase)
    x = phase[0]
    for i, at in enumerate(phase):
        while True:
            turn = np.round((x + psi) / (2 * np.pi)) * 2 * np.pi - psi
            low, high = turn - fold, turn + fold
            if c <= 1:
                low, high = at - c - 1e-9, at + c + 1e-9
            if excess(low, at) > 0:  # the branch ends: fall to the one below
                x = turn - 2 * np.pi
            elif excess(high, at) < 0:
                x = turn + 2 * np.pi
            else:
                break
        x = brentq(excess, low, high, args=(at,), xtol=1e-12)
        roots[i] = x
    return roots


def write(name, rate, monitor, truth, drive=None):
    """16 bit numbers and the volts (amperes) per step beside them."""
    channels = [monitor] if drive is None else [monitor, drive]
    scales, columns = [], []
    for values in channels:
        low, high = values.min(), values.max()
        step = (high - low) / 65000
        scales.append({"step": step, "offset": (high + low) / 2})
        columns.append(np.round((values - (high + low) / 2) / step))
    np.save(here / f"{name}.npy", np.array(columns, dtype="<i2").T)
    truths[name] = {"samplingRate": rate, "channels": scales, "truth": truth}


def noisy(signal, amplitude, decibels):
    sigma = amplitude / np.sqrt(2) * 10 ** (-decibels / 20)
    return signal + random.normal(0, sigma, signal.size)


def moving(name, way, rate, c, alpha, truth, decibels=30, wavelength=780e-9):
    phase = 4 * np.pi * (0.15 + way) / wavelength
    signal = 2 * (1 + 0.015 * np.cos(feedback_phase(phase, c, alpha)))
    write(name, rate, noisy(signal, 0.03, decibels), {
        "wavelength": wavelength, "feedbackParameter": c,
        "linewidthEnhancementFactor": alpha, **truth})


rate = 100e3
t = np.arange(10_000) / rate
for c in (0.3, 0.8, 2.0, 3.5):
    # Also drifts away by two micrometres: the net way tells the direction.
    way = 1.7e-6 * np.sin(2 * np.pi * 53 * t + 0.4) + 2e-6 * t / t[-1]
    moving(f"vibration-c{c}", way, rate, c, 4.6, {
        "amplitude": 1.7e-6, "frequency": 53, "drift": 2e-6 / t[-1],
        "start": 0.4, "net": way[-1] - way[0]})

decay, damped = 25.0, 2 * np.pi * 160
way = 3e-6 * np.exp(-decay * t) * np.cos(damped * t)
natural = np.hypot(decay, damped)
moving("ring-down", way, rate, 0.7, 4.0, {
    "naturalFrequency": natural / (2 * np.pi),
    "qualityFactor": natural / (2 * decay)})

for name, c, distance in (("ramp-weak", 0.5, 0.137), ("ramp-moderate", 2.2, 0.302)):
    rate = 100e3
    t = np.arange(15_000) / rate
    wavelength, tuning = 780e-9, 6e-9
    current = 0.04 + 0.01 / np.pi * np.arcsin(np.sin(2 * np.pi * 40 * t + 0.7))
    phase = 4 * np.pi * distance / (wavelength + tuning * (current - 0.04))
    power = 50 * (current - 0.02)
    signal = power * (1 + 0.01 * np.cos(feedback_phase(phase, c, 4.6)))
    ends = wavelength + tuning * np.array([-0.005, 0.005])
    write(name, rate, noisy(signal, 0.01, 30), {
        "distance": distance, "tuning": tuning, "wavelength": wavelength,
        "feedbackParameter": c,
        "stepsPerCurrent": 2 * distance * (1 / ends[0] - 1 / ends[1]) / 0.01,
    }, drive=current)

rate = 200e3
t = np.arange(60_000) / rate
speed, angle, wavelength, waist = 0.05, np.radians(80), 780e-9, 100e-6
travel = speed * np.sin(angle) * t[-1]
scatterers = int((travel + 6 * waist) / waist * 40)
place = random.uniform(-3 * waist, travel + 3 * waist, scatterers)
turn = random.uniform(0, 2 * np.pi, scatterers)
field = np.zeros(t.size, complex)
for x, phi in zip(place, turn):
    across = speed * np.sin(angle) * t - x
    near = np.abs(across) < 3 * waist
    # Out and back through the beam: the square of a Gaussian field.
    field[near] += np.exp(-2 * (across[near] / waist) ** 2 + 1j * phi)
field /= np.sqrt(np.mean(np.abs(field) ** 2))
field *= np.exp(4j * np.pi / wavelength * speed * np.cos(angle) * t)
write("disc", rate, noisy(2 + 0.01 * field.real, 0.01, 10), {
    "wavelength": wavelength, "angle": angle, "speed": speed})

(here / "captures.json").write_text(json.dumps(truths, indent=1) + "\n")
