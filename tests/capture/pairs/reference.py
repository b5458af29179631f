"""Reads one file per line of standard input and prints the seconds it took.

Needs pandas, NumPy, SciPy. Every route ends with float64 arrays in memory and
with the SHA-256 of the file, as ours does; text is timed without the hash.
"""
import hashlib
import sys
import time
import numpy as np
import pandas as pd
from scipy.io import wavfile


def read(path):
    name = path.rsplit("/", 1)[-1]
    if name == "comma.csv":
        return pd.read_csv(path, sep=";", decimal=",")
    if name.endswith(".csv"):
        return pd.read_csv(path)
    with open(path, "rb") as file:
        hashlib.file_digest(file, "sha256")
    if name.endswith(".npy"):
        return np.load(path).astype(float)
    rate, data = wavfile.read(path)
    scale = 1 / 32768 if data.dtype == np.int16 else 1
    return data.astype(float) * scale


for line in sys.stdin:
    path = line.strip()
    started, cpu = time.perf_counter(), time.process_time()
    data = read(path)
    print(time.perf_counter() - started, time.process_time() - cpu, flush=True)
    del data
