"""Makes benches on request and measures each with the plain SciPy script.

A line of JSON in: {"kind": "work", "family": "motion", "number": 3, "folder": …};
with "change": {"hum": 0} the bench is as drawn but for that;
a line of JSON out: the bench, what is true, the bound, what the script found.
Arrays go to files of float64 in the folder.
"""
import json
import os
import pathlib
import sys
import time
import warnings

# One thread: CPU time is compared.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")

here = pathlib.Path(__file__).parent
sys.path[:0] = [str(here / "simulator"), str(here / "peer")]

import numpy as np  # noqa: E402

import bound  # noqa: E402
import doppler  # noqa: E402
import doppler_line  # noqa: E402
import moving  # noqa: E402
import ramp  # noqa: E402
import ranging  # noqa: E402
import spoilt  # noqa: E402
import vibration  # noqa: E402

warnings.filterwarnings("ignore")
FAMILIES = {"motion": moving, "range": ramp, "speed": doppler, "spoilt": spoilt}


def given_of(bench):
    """What both sides are told besides the wavelength."""
    return {
        "wavelength": bench["wavelength"],
        "polarity": 1,
        "couplingCorner": bench["corner"]
        if bench.get("cornerStated") else None,
        "mains": bench["mains"] if bench["mainsStated"] else None,
        "angle": bench.get("angle", 0.0),
        "tuning": bench.get("tuning"),
    }


def measurement(bench):
    """Which question is asked."""
    if bench["family"] == "range" or bench["motion"] == "no light on a ramp":
        return "steps"
    if bench["family"] == "speed":
        return ("track" if bench["motion"] in ("swept", "reversing")
                else "speed")
    return "displacement"


def by_script(made, asked, given):
    """What the script finds: an array, numbers, or why not."""
    y, rate = made["monitor"], made["bench"]["samplingRate"]
    start = time.process_time()
    found, told, refused = {}, True, None
    array = None
    try:
        if asked == "displacement":
            array, told = vibration.displacement(y, rate, given)
        elif asked == "steps":
            found["stepsPerCurrent"] = ranging.steps_per_current(
                y, made["drive"])
        else:
            scale = given["wavelength"] / (2 * np.cos(given["angle"]))
            mains = made["bench"]["mains"]
            if asked == "speed":
                found["speed"] = doppler_line.steady(y, rate, mains) * scale
            else:
                t, f = doppler_line.course(y, rate, mains)
                array = np.array([t, f * scale])
    except vibration.NoFringes as error:
        refused = str(error)
    except Exception as error:  # noqa: BLE001 - a script that falls over refuses
        refused = f"{type(error).__name__}: {error}"
    return array, {"found": found, "told": told, "refused": refused,
                   "cpu": time.process_time() - start}


def bound_of(made, asked):
    """The bound of the main quantity; null where it is not known."""
    try:
        if made["bench"].get("dark") or made["bench"]["family"] == "spoilt":
            return None
        if asked == "displacement":
            return bound.motion_bound(made)
        if asked == "steps":
            return bound.ramp_bound(made, ramp.light_of)
        return bound.tone_bound(made)
    except (np.linalg.LinAlgError, ValueError):
        return None


def answer(request):
    folder = pathlib.Path(request["folder"])
    name = f"{request['family']}-{request['number']}"
    start = time.process_time()
    make = FAMILIES[request["family"]].make
    change = request.get("change") or {}
    made = make(request["kind"], request["number"],
                **({"change": lambda b: b.update(change)} if change else {}))
    bench = made["bench"]
    simulated = time.process_time() - start
    asked, given = measurement(bench), given_of(bench)
    arrays = {"monitor": made["monitor"], "drive": made["drive"],
              "way": made["way"], "speed": made.get("speed")}
    start = time.process_time()
    least = bound_of(made, asked) if request.get("bound", True) else None
    bounded = time.process_time() - start
    arrays["scipy"], script = by_script(made, asked, given)
    files = {}
    for part, values in arrays.items():
        if values is not None:
            path = folder / f"{name}.{part}.f64"
            np.asarray(values, "<f8").tofile(path)
            files[part] = str(path)
    bench = {k: (None if v == np.inf else v) for k, v in bench.items()}
    return {"name": name, "measurement": asked, "given": given, "bench": bench,
            "truth": made["truth"], "sigma": made["sigma"], "bound": least,
            "scipy": script, "files": files,
            "cpu": {"simulation": simulated, "bound": bounded}}


def main():
    print(json.dumps({"ready": True}), flush=True)
    for line in sys.stdin:
        print(json.dumps(answer(json.loads(line))), flush=True)


if __name__ == "__main__":
    main()
