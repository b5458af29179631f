"""The route of NumPy and SciPy: the same numbers from the same samples, whole in
memory, and block by block for files larger than memory."""

WAVELENGTH = 650e-9
RATE = 1e6
BLOCK = 1 << 22


def load(options):
    import numpy

    array = numpy.load(options["path"])
    if array.ndim == 1:
        return array
    return [numpy.ascontiguousarray(array[:, at]) for at in range(array.shape[1])]


def displacement(options):
    import numpy
    from scipy.signal import hilbert

    x = load(options)

    def work():
        phase = numpy.unwrap(numpy.angle(hilbert(x - x.mean())))
        return phase * (WAVELENGTH / (4 * numpy.pi))

    return work


def spectrum(options):
    from scipy.signal import welch

    x = load(options)
    return lambda: welch(x, RATE, nperseg=1 << 14)


def spectrogram(options):
    from scipy.signal import spectrogram as scipy_spectrogram

    x = load(options)
    return lambda: scipy_spectrogram(x, RATE, window="hann", nperseg=1024, noverlap=512)


def stroke_steps(y, current):
    """Steps of one stroke: phase of the detrended signal against the current."""
    import numpy
    from scipy.signal import hilbert

    u = (current - current.mean()) / (numpy.ptp(current) / 2)
    fringes = y - numpy.polynomial.polynomial.polyval(
        u, numpy.polynomial.polynomial.polyfit(u, y, 2)
    )
    phase = numpy.unwrap(numpy.angle(hilbert(fringes)))
    inner = slice(len(u) // 20, -(len(u) // 20))
    slope = numpy.polynomial.polynomial.polyfit(current[inner], phase[inner], 1)[1]
    return abs(slope) / (2 * numpy.pi)


def strokes_of(current):
    import numpy
    from scipy.signal import find_peaks

    high = 0.3 * numpy.ptp(current)
    # Each peak would otherwise look for a higher one through the whole record.
    first = find_peaks(current[: 1 << 17], prominence=high)[0]
    reach = 2 * int(numpy.diff(first).max()) if len(first) > 1 else None
    ups = find_peaks(current, prominence=high, wlen=reach)[0]
    downs = find_peaks(-current, prominence=high, wlen=reach)[0]
    return numpy.sort(numpy.concatenate([ups, downs]))


def ramps_of(y, current):
    turns = strokes_of(current)
    found = []
    for a, b in zip(turns[:-1], turns[1:]):
        room = (b - a) // 50
        part = slice(a + room, b - room)
        found.append(stroke_steps(y[part], current[part]))
    return found, (int(turns[-1]) if len(turns) > 0 else 0)


def ramps(options):
    import numpy

    y, current = load(options)
    return lambda: numpy.median(ramps_of(y, current)[0])


def displacement_stream(options):
    """Blocks overlap by 2048 samples; each goes on where the last one ended."""
    import numpy
    from scipy.signal import hilbert

    x = numpy.load(options["path"], mmap_mode="r")
    room = 2048

    def work():
        end = 0.0
        low, high, path = numpy.inf, -numpy.inf, 0.0
        for start in range(0, len(x), BLOCK):
            a, b = max(0, start - room), min(len(x), start + BLOCK + room)
            part = numpy.asarray(x[a:b])
            phase = numpy.unwrap(numpy.angle(hilbert(part - part.mean())))
            own = phase[start - a : min(len(x), start + BLOCK) - a]
            own = (own - own[0]) * (WAVELENGTH / (4 * numpy.pi)) + end
            low, high = min(low, own.min()), max(high, own.max())
            path += numpy.abs(numpy.diff(own)).sum()
            end = own[-1]
        return low, high, path, end

    return work


def spectrum_stream(options):
    import numpy
    from scipy.signal import welch

    x = numpy.load(options["path"], mmap_mode="r")
    length = 1 << 14

    def work():
        total, count = 0, 0
        for start in range(0, len(x) - length + 1, BLOCK):
            part = numpy.asarray(x[start : start + BLOCK + length // 2])
            if len(part) < length:
                break
            segments = 1 + (len(part) - length) // (length // 2)
            _, density = welch(part, RATE, nperseg=length)
            total, count = total + segments * density, count + segments
        return total / count

    return work


def spectrogram_stream(options):
    """Means of neighbouring spectra, so that 1024 columns are kept."""
    import numpy
    from scipy.signal import spectrogram as scipy_spectrogram

    x = numpy.load(options["path"], mmap_mode="r")
    length = 1024
    # As many columns as ours, a power of two of segments each.
    each = 1
    while len(x) // (length // 2) // each > 1024:
        each *= 2

    def work():
        columns = []
        for start in range(0, len(x), BLOCK):
            part = numpy.asarray(x[start : start + BLOCK + length // 2])
            if len(part) < length:
                break
            density = scipy_spectrogram(
                part, RATE, window="hann", nperseg=length, noverlap=length // 2
            )[2]
            whole = density.shape[1] // each * each
            if whole == 0:
                break
            columns.append(
                density[:, :whole].reshape(density.shape[0], -1, each).mean(axis=2)
            )
        return numpy.concatenate(columns, axis=1)

    return work


def ramps_stream(options):
    import numpy

    x = numpy.load(options["path"], mmap_mode="r")

    def work():
        found, start = [], 0
        while start < len(x):
            part = numpy.asarray(x[start : start + BLOCK])
            steps, last = ramps_of(
                numpy.ascontiguousarray(part[:, 0]), numpy.ascontiguousarray(part[:, 1])
            )
            found += steps
            if start + BLOCK >= len(x) or last == 0:
                break
            # The next block starts before the last turning point.
            start += last - 1000
        return numpy.median(found)

    return work
