"""The zoo's simulator against what is known without it.

Sources: excess-phase equation and jump phases, Lang and Kobayashi 1980, Donati,
Giuliani, Merlo 1995, and roots found by another solver (bisection to 1e-13) in the
table below; step response of first-order filters, any textbook of circuits; half a
wavelength per fringe, common practice, no source.
"""
import pathlib
import sys

here = pathlib.Path(__file__).parent
sys.path.insert(0, str(here / "simulator"))

import numpy as np  # noqa: E402

import bound  # noqa: E402
import chain  # noqa: E402
import doppler  # noqa: E402
import excess_phase  # noqa: E402
import moving  # noqa: E402
import ramp  # noqa: E402
import spoilt  # noqa: E402

# C, alpha, phi0, one stable root: roots by bisection on the equation, residual
# below 1e-13, no line shared with the simulator.
ROOTS = [
    (0.1, 5, 0, -0.0957344160), (0.1, 5, 3, 3.0970884647),
    (0.1, 5, 6, 5.9155431590), (0.5, 5, 0, -0.4104423470),
    (0.5, 5, 1, 0.5268983238), (0.5, 5, 2, 2.2169017251),
    (0.5, 5, 4, 4.2903055298), (0.9, 3, 1, 0.1185219571),
    (0.9, 3, 2, 2.5499741456), (0.9, 3, 5, 5.0161709006),
    (2, 5, 1, -0.5143915431), (2, 5, 2, 0.0284685417),
    (2, 5, 2, 3.7953359055), (2, 5, 4, 4.6033405034),
    (3, 4, 2, -0.3990500244), (3, 4, 2, 4.1556516775),
    (3, 4, 3, 0.0543462145), (3, 4, 3, 4.4521068889),
    (6, 5, 3, -0.7073436946), (6, 5, 3, 4.6339721681),
    (6, 5, 5, -0.2929685745), (6, 5, 5, 4.9226727689),
    (6, 5, 5, 10.1582661848)]
# Hysteresis widths 2 [sqrt(C^2-1) - arccos(1/C)] / 2 pi, in fringes.
WIDTHS = [(1.5, 0.0882), (2, 0.2180), (3, 0.5085), (4, 0.8132),
          (4.6033, 1.0), (5, 1.1235), (6, 1.4364), (8, 2.0664)]
# Timing within a fringe, jump minus the rising zero crossing before it, as parts
# of a fringe: Yu, Giuliani, Donati 2004; receding, approaching.
TIMING = [(1.5, 3, 0.670782, 0.417378), (1.5, 5, 0.622316, 0.465845),
          (2, 3, 0.760864, 0.457131), (2, 5, 0.702840, 0.515156),
          (2.5, 3, 0.857196, 0.503134), (2.5, 5, 0.789613, 0.570716),
          (3, 4, 0.909037, 0.599453), (3, 5, 0.879300, 0.629190)]

passed = failed = 0


def check(name, holds, seen=""):
    global passed, failed
    if holds:
        passed += 1
    else:
        failed += 1
    print(f"{'ok' if holds else 'FAILED'}: {name} {seen}")


def to_root(c, alpha, phase, near):
    """The root that the simulator is on after a way from a place on its branch."""
    psi = np.arctan(alpha)
    m = np.round((near + psi) / (2 * np.pi))
    start = 2 * np.pi * m - psi
    x = excess_phase.feedback_phase(np.linspace(start, phase, 2001), c, alpha)
    return x[-1]


def roots():
    worst = max(abs(to_root(c, a, p, x) - x) for c, a, p, x in ROOTS)
    check("stable roots of the table", worst < 5e-10, f"{worst:.1e} rad")
    random = np.random.default_rng(1)
    left = 0
    for _ in range(200):
        c, a = random.uniform(0.01, 8), random.uniform(0, 8)
        p = np.cumsum(random.normal(0, 0.3, 500))
        x = excess_phase.feedback_phase(p, c, a)
        u = 1 + c * np.cos(x + np.arctan(a))
        far = u > 1e-3
        left = max(left, np.max(np.abs(
            x + c * np.sin(x + np.arctan(a)) - p)[far], initial=0))
        left = max(left, -min(np.min(u), 0))
    check("residual, and stability, on random ways", left < 1e-9, f"{left:.1e}")
    c = np.full(4000, 2.2)
    p = np.cumsum(np.random.default_rng(2).normal(0, 0.2, 4000))
    one = excess_phase.feedback_phase(p, 2.2, 4)
    # C given per sample takes another way through the solver.
    c[0] += 1e-12
    other = excess_phase.feedback_phase(p, c, 4)
    check("C per sample and C for all agree",
          np.max(np.abs(one - other)) < 1e-6)


def jumps():
    worst = width = 0.0
    for c, fringes in WIDTHS:
        a = 5.0
        p = np.linspace(-40, 40, 800_001)
        step = p[1] - p[0]
        up = excess_phase.feedback_phase(p, c, a)
        down = excess_phase.feedback_phase(p[::-1], c, a)[::-1]
        at_up = p[1:][np.diff(up) > 0.5]
        at_down = p[:-1][np.diff(down) > 0.5]
        expected_up = np.arccos(-1 / c) - np.arctan(a) + np.sqrt(c * c - 1)
        expected_down = -np.arccos(-1 / c) - np.arctan(a) - np.sqrt(c * c - 1)
        for at, expected in ((at_up, expected_up), (at_down, expected_down)):
            off = (at[5] - expected) / (2 * np.pi)
            worst = max(worst, abs(off - np.round(off)) * 2 * np.pi)
        # Of one fold: where it is left upwards and where it is come back to.
        # Of the fold between two branches: up at one phase, back at another.
        w = (expected_up - (expected_down + 2 * np.pi)) / (2 * np.pi)
        seen = np.min(np.abs((at_up[5] - at_down) / (2 * np.pi) - fringes))
        width = max(width, seen, abs(w - fringes))
    check("jump phases both ways, C 1.5 to 8", worst < 3 * step,
          f"{worst:.1e} rad")
    check("hysteresis widths", width < 1e-4, f"{width:.1e} fringes")


def timing():
    worst = 0.0
    for c, a, receding, approaching in TIMING:
        for sign, expected in ((1, receding), (-1, approaching)):
            p = sign * np.linspace(-40, 40, 800_001)
            x = excess_phase.feedback_phase(p, c, a)
            y = np.cos(x)
            jump = np.flatnonzero(np.abs(np.diff(x)) > 0.5)[5]
            # At phiF = -pi/2: rising while receding, falling while approaching.
            crossing = np.flatnonzero((sign * y[:-1] < 0) & (sign * y[1:] >= 0)
                                      & (np.abs(np.diff(x)) < 0.5))
            before = crossing[crossing <= jump]
            seen = (np.min(jump - before)) * 80 / 800_000 / (2 * np.pi)
            worst = max(worst, abs(seen - expected) % 1)
    check("time from zero crossing to jump", worst < 1e-4,
          f"{worst:.1e} fringes")


def fringes():
    for c in (0.05, 0.7, 1.5, 3.0):
        # 40 half wavelengths there: 40 fringes, and 40 back.
        p = 4 * np.pi * np.concatenate((np.linspace(0, 20, 60_000),
                                        np.linspace(20, 0, 60_000)))
        x = excess_phase.feedback_phase(p, c, 4)
        turns = (x[59_999] - x[0]) / (2 * np.pi)
        check(f"half a wavelength each, C {c}", abs(turns - 40) < 1)
        y = np.cos(x[:60_000])
        tops = np.flatnonzero((y[1:-1] > y[:-2]) & (y[1:-1] >= y[2:]))
        check(f"40 maxima on the way, C {c}", abs(tops.size - 40) <= 1)
    # Fringe loss: 650 nm, 2 um, alpha 5: 12.3077 fringes a stroke; of each,
    # floor((D - W) / 2 pi) + 1 jump, one fewer or more by where it starts.
    t = np.linspace(0, 2, 400_001)
    for c, low, high in ((1.5, 12, 12), (3, 11, 12), (4, 11, 11),
                         (6, 10, 11), (8, 9, 10)):
        p = 4 * np.pi / 650e-9 * 2e-6 * np.sin(2 * np.pi * t)
        x = excess_phase.feedback_phase(p, c, 5)
        stroke = (t > 0.25) & (t < 0.75)
        n = np.count_nonzero(np.abs(np.diff(x[stroke])) > 0.5)
        check(f"jumps per stroke at C {c}", low - 1 <= n <= high + 1, f"{n}")


def filters():
    rate, corner = 1e5, 731.0
    t = np.arange(2000) / rate
    step = np.where(t > 0, 1.0, 0.0)
    low = chain.low_pass(step, corner, rate)
    # The step rises straight over the first sample: as one half a sample later.
    expected = 1 - np.exp(-2 * np.pi * corner * (t - 0.5 / rate))
    check("step response of a pole", np.max(np.abs(low - expected)[2:]) < 1e-4)
    for over in (0.1, 1.0, 4.0):
        t = np.arange(400_000) / rate / 10
        wave = np.exp(2j * np.pi * corner * over * t)
        got = (chain.low_pass(wave.real, corner, 10 * rate)
               + 1j * chain.low_pass(wave.imag, corner, 10 * rate))[-1] / wave[-1]
        check(f"pole at {over} times its corner",
              abs(got - 1 / (1 + 1j * over)) < 1e-4)
    rise = chain.high_pass(np.where(np.arange(20_000) > 9_999, 1.0, -1.0),
                           50.0, rate)
    after = np.arange(500) / rate
    fall = rise[10_001:10_501] / rise[10_001]
    check("droop behind a coupling capacitor",
          np.max(np.abs(fall - np.exp(-2 * np.pi * 50 * after))) < 1e-3)
    random = np.random.default_rng(3)
    noise = chain.flicker(random, 1 << 16, 1.0)
    power = np.abs(np.fft.rfft(noise)) ** 2
    octaves = [np.sum(power[a:2 * a]) for a in (64, 512, 4096)]
    check("1/f noise: each octave the same power",
          max(octaves) / min(octaves) < 1.5)


def benches():
    made = moving.make("work", 37)
    again = moving.make("work", 37)
    check("the same bytes each time",
          np.array_equal(made["monitor"], again["monitor"]))
    other = moving.make("kept", 37)
    check("kept seeds are others",
          other["bench"]["feedbackParameter"]
          != made["bench"]["feedbackParameter"])
    levels = np.diff(np.unique(made["monitor"]))
    check("the converter's steps", np.ptp(levels[levels > 0] / np.min(
        levels)) < 2 ** 14 and np.allclose(
            levels / np.min(levels), np.round(levels / np.min(levels)),
            atol=1e-3))
    finer = moving.make("work", 20, change=lambda b: b.update(
        snr=120.0, bits=24, hum=0.0, flicker=0.0))
    twice = moving.make("work", 20, change=lambda b: b.update(
        snr=120.0, bits=24, hum=0.0, flicker=0.0,
        oversampling=4 * b["oversampling"]))
    off = np.sqrt(np.mean((finer["monitor"] - twice["monitor"]) ** 2))
    check("finer oversampling changes little",
          off < 0.01 * finer["bench"]["fringe"],
          f"{off / finer['bench']['fringe']:.1e} of a fringe")
    for k in range(6):
        made = ramp.make("work", 8 * k, change=lambda b: b.update(
            snr=90.0, bits=20, hum=0.0, flicker=0.0, poles=[], table=[],
            velocity=0.0, feedbackParameter=0.01, corner=None))
        b = made["bench"]
        t = np.arange(b["samples"]) / b["samplingRate"]
        phase, _ = ramp.optical(t, b)
        turns = np.ptp(phase) / (2 * np.pi)
        check(f"steps on ramp {k}: 2 n L (1/l1 - 1/l2)",
              abs(turns / (made["truth"]["stepsPerCurrent"]
                           * (b["high"] - b["low"])) - 1) < 0.01)
    made = doppler.make("work", 0)
    b = made["bench"]
    y = made["monitor"] - np.mean(made["monitor"])
    f = np.fft.rfftfreq(y.size, 1 / b["samplingRate"])
    near = np.abs(f / b["fastestFringe"] - 1) < 0.1
    line = f[near][np.argmax(np.abs(np.fft.rfft(y))[near])]
    check("Doppler line at 2 v cos(angle) / wavelength",
          abs(line / b["fastestFringe"] - 1) < 2 * f[1] / line)
    dark = spoilt.make("work", 0)
    check("no light: the same whatever C",
          np.ptp(dark["light"](np.linspace(0, 1e-3, 100))) == 0)


def bounds():
    """The bound of a cosine at a steady speed, in closed form: each sample tells
    (lambda / 4 pi)^2 2 sigma^2 / height^2 on average, and n / h of n are free."""
    n, h = 20_000, 2500
    bench = {"samples": n, "oversampling": 8, "samplingRate": 1e5,
             "poles": [1e6], "corner": None, "cornerStated": False,
             "wavelength": 650e-9, "feedbackParameter": 1e-3,
             "linewidthEnhancementFactor": 4.0, "fringe": 0.01}

    def light(t, shift=0.0, values=bench):
        phase = 2 * np.pi * 4e3 * t + shift
        return values["fringe"] * np.cos(excess_phase.feedback_phase(
            phase, values["feedbackParameter"],
            values["linewidthEnhancementFactor"]))
    way = 4e3 * 325e-9 * np.arange(n) / 1e5
    made = {"bench": bench, "light": light, "sigma": 1e-3, "way": way}
    u = bound.motion_bound(made)
    # 11 coefficients of a spline with knots 2500 samples apart, less the mean;
    # 16 random probes of the trace are within a few parts in a hundred.
    plain = bench["wavelength"] / (4 * np.pi) * np.sqrt(2 * (n / h + 2) / n) * 0.1
    check("bound of a cosine", abs(u / plain - 1) < 0.3, f"{u / plain:.3f}")


if __name__ == "__main__":
    for part in (roots, jumps, timing, fringes, filters, benches, bounds):
        part()
    print(f"{passed} passed, {failed} failed")
    sys.exit(1 if failed else 0)
