"""From a cold start to the phase of the fringes in the capture that is named."""
import hashlib
import sys

import numpy
from scipy.io import wavfile
from scipy.signal import hilbert

with open(sys.argv[1], "rb") as file:
    hashlib.file_digest(file, "sha256")
rate, samples = wavfile.read(sys.argv[1])
signal = samples / 32768 if samples.dtype.kind == "i" else samples
if signal.ndim > 1:
    signal = signal[:, 0]
phase = numpy.unwrap(numpy.angle(hilbert(signal - signal.mean())))
displacement = phase * 650e-9 / (4 * numpy.pi)
assert len(displacement) == len(samples)
