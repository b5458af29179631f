"""Captures with nothing in them, clipped, or sampled too slowly."""
import numpy as np

import moving
import ramp

KINDS = ["no light", "no light on a ramp", "clipped", "aliased"]


def make(kind, number, family="spoilt"):
    what = KINDS[number % 4]

    def clipped(bench):
        bench["clip"] = 0.15 + 0.02 * (number // 4 % 10)

    def aliased(bench):
        # Fewer than two samples in the fastest fringe.
        slower = bench["samplesPerFringe"] / (1.3 if number % 8 < 4 else 0.8)
        bench["samplingRate"] /= slower
        bench["samples"] = max(4000, int(bench["samples"] / slower))
        bench["duration"] = bench["samples"] / bench["samplingRate"]
        bench["samplesPerFringe"] /= slower
        bench["oversampling"] = 64

    if what == "no light on a ramp":
        made = ramp.make(kind, 8 * number, family, darkened)
    elif what == "no light":
        made = moving.make(kind, 9 * number + 1, family, darkened)
    else:
        change = clipped if what == "clipped" else aliased
        made = moving.make(kind, 9 * number + (number // 4) % 3, family, change)
    made["bench"]["motion"] = what
    if what.startswith("no light"):
        made["truth"] = {}
    return made


def darkened(bench):
    """No light comes back: noise, hum, 1/f and the power of the ramp stay."""
    bench["hum"] = max(bench["hum"], 0.3)
    bench["dark"] = True
