"""The route of NumPy, SciPy and pandas: a file to arrays in memory."""
import hashlib


def pandas_text(options):
    import pandas

    settings = {key: options[key] for key in ("sep", "decimal") if key in options}
    return lambda: pandas.read_csv(options["path"], **settings)


def numpy_text(options):
    import numpy

    return lambda: numpy.loadtxt(options["path"], delimiter=",", skiprows=1)


def numpy_column(options):
    import numpy

    return lambda: numpy.fromfile(options["path"], sep="\n")


def digest(path):
    with open(path, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def columns(array):
    """One contiguous array per channel, as an analysis of one needs it."""
    import numpy

    if array.ndim == 1:
        return [array]
    return [numpy.ascontiguousarray(array[:, at]) for at in range(array.shape[1])]


def npy(options):
    import numpy

    def work():
        found = digest(options["path"]) if options["hash"] else None
        return found, columns(numpy.load(options["path"]))

    return work


def wav(options):
    from scipy.io import wavfile

    def work():
        found = digest(options["path"]) if options["hash"] else None
        rate, array = wavfile.read(options["path"])
        if array.dtype.kind == "f":
            return found, rate, columns(array)
        # Parts of full scale, as float64: what the numbers of a WAV file mean.
        half = 2 ** (8 * array.dtype.itemsize - 1)
        if array.ndim == 1:
            return found, rate, [array / half]
        return found, rate, [array[:, at] / half for at in range(array.shape[1])]

    return work
