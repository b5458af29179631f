"""Makes the files that pairs.ts reads: python3 make_files.py FOLDER [MEGASAMPLES]"""
import sys
import numpy as np
from scipy.io import wavfile

folder = sys.argv[1]
n = int(float(sys.argv[2]) * 1e6) if len(sys.argv) > 2 else 1_000_000
rng = np.random.default_rng(1)
t = np.arange(n) / 1e6
v = 0.5 * np.sin(2 * np.pi * 300 * t) + 0.01 * rng.standard_normal(n)
i = 0.04 + 0.001 * np.abs((t * 50) % 2 - 1)
rows = list(zip(t.tolist(), v.tolist(), i.tolist()))
head = "time (s),monitor (V),drive (A)\n"


def text(name, row, heading=head):
    with open(f"{folder}/{name}", "w") as f:
        f.write(heading)
        f.writelines(row(a, b, c) for a, b, c in rows)


text("short.csv", lambda a, b, c: f"{a:.6f},{b:.5f},{c:.6f}\n")
text("exponent.csv", lambda a, b, c: f"{a:.8E},{b:.6E},{c:.6E}\n")
text("full.csv", lambda a, b, c: f"{a!r},{b!r},{c!r}\n")
text("comma.csv", lambda a, b, c: f"{a:.6f};{b:.5f};{c:.6f}\n".replace(".", ","), head.replace(",", ";"))
m = 10 * n
long = 0.5 * np.sin(np.arange(m) / 50)
np.save(f"{folder}/one.npy", long)
np.save(f"{folder}/two.npy", np.column_stack([long, -long]).astype("<f4"))
wavfile.write(f"{folder}/int16.wav", 192000, np.column_stack([long * 32767, -long * 32767]).astype("int16"))
wavfile.write(f"{folder}/float32.wav", 192000, long.astype("float32"))
