"""From a cold start to the speed of the fringes in the capture that is named."""
import hashlib
import sys

import numpy
from scipy.io import wavfile
from scipy.signal import welch

with open(sys.argv[1], "rb") as file:
    hashlib.file_digest(file, "sha256")
rate, samples = wavfile.read(sys.argv[1])
signal = samples / 32768 if samples.dtype.kind == "i" else samples
if signal.ndim > 1:
    signal = signal[:, 0]
frequency, power = welch(signal, rate, nperseg=4096)
line = frequency[numpy.argmax(power)]
speed = line * 650e-9 / 2 / numpy.cos(numpy.radians(78))
assert speed > 0
