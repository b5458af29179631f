"""Ten million samples to an unwrapped phase by scipy.signal.hilbert and
numpy.unwrap, for comparison with motion_bench.ts on the same machine."""
import time
import numpy as np
from scipy.signal import hilbert

n, rate = 10_000_000, 1e6
t = np.arange(n) / rate
phase = 4 * np.pi / 650e-9 * 5e-6 * np.sin(2 * np.pi * 100 * t)
x = phase.copy()
psi = np.arctan(5.0)
for _ in range(6):
    x -= (x + 0.5 * np.sin(x + psi) - phase) / (1 + 0.5 * np.cos(x + psi))
signal = np.cos(x) + 0.0224 * np.random.default_rng(1).standard_normal(n)
for _ in range(3):
    start = time.perf_counter()
    unwrapped = np.unwrap(np.angle(hilbert(signal - signal.mean())))
    print(f"{time.perf_counter() - start:.2f} s")
