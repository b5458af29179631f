/**
 * A call of every function of the library that takes a capture or samples, on
 * captures of millions of samples; as text, for cells of a notebook as well.
 *
 * @module
 */

/** Where the calls stop to be of interest: they look up, or keep what they get. */
const lookups = [
  "findChannel",
  "requireChannel",
  "streamOfCapture",
  "runBlocks",
  "streamOfSamples",
];

/** Rooms behind whose doors such functions may stand: all of them. */
export const rooms: readonly string[] = Array.from(
  Deno.readDirSync(new URL("../../lib/doors/", import.meta.url)),
  ({ name }) => name.replace(/\.ts$/, ""),
).sort();
const doors = ["lib/mod.ts", ...rooms.map((room) => `lib/doors/${room}.ts`)];

/**
 * Code that makes what the calls take; `f` is the library.
 *
 * @param count Samples of each capture.
 */
export function setup(count: number): string {
  return `
const count = ${count};
const samplingRate = 1e6;
const wavelength = 650e-9;
const noise = (i) => 1e-3 * ((i * 7919 % 1000) / 1e3 - 0.5);
const made = (value) => {
  const samples = new Float64Array(count);
  for (let i = 0; i < count; i++) samples[i] = value(i);
  return samples;
};
const fringes = (displacement) => made((i) => {
  const phase = 4 * Math.PI * displacement(i / samplingRate) / wavelength;
  return 0.2 + 0.05 * Math.cos(phase + 0.5 * Math.sin(phase)) + noise(i);
});
const monitor = (samples) => ({ name: "CH1", role: "monitor signal", unit: "V", samples });
const captureOf = (...channels) => f.createCapture(channels, { samplingRate });
const moving = captureOf(monitor(fringes((time) => 3e-6 * Math.sin(2 * Math.PI * 20 * time))));
const samples = moving.channels[0].samples;
const running = captureOf(monitor(fringes((time) => 0.02 * time)));
const height = (i) => 1 - Math.abs(2 * ((i / samplingRate * 50) % 1) - 1);
const current = made((i) => 0.03 + 0.01 * height(i));
const ramp = captureOf(
  monitor(made((i) => 0.1 + 0.2 * height(i) + noise(i) +
    0.02 * Math.cos(4 * Math.PI * 0.2 * 8.3e-11 * height(i) / wavelength ** 2))),
  { name: "CH2", role: "drive current", unit: "A", samples: current },
);
const voltage = made((i) => 2 + 20 * (current[i] - 0.035));
const ofVoltage = captureOf(
  ramp.channels[0],
  { name: "CH2", role: "drive voltage", unit: "V", samples: voltage },
);
const slow = (i) => 1e-4 * ((i >> 12) * 7919 % 1000) / 1e3;
const still = captureOf(monitor(made((i) => 0.2 + 5 * noise(i) + slow(i))));
const coming = captureOf(monitor(made((i) =>
  0.2 + 0.05 * height(i * 0.02 * 1e7 / count) + noise(i) + slow(i))));
const driven = captureOf(monitor(samples), { name: "CH2", role: "drive voltage", unit: "V", samples: current });
`;
}

/** The calls, each by the name of the function; after a comma what is special. */
export const calls: Readonly<Record<string, string>> = {
  analyticSignal: "f.analyticSignal(samples)",
  applyAmplifier: "f.applyAmplifier(samples, samplingRate, {})",
  bandPass: "f.bandPass(samples, 1e3, 1e4, { samplingRate })",
  bandSource: "f.bandSource(samples, samplingRate)",
  calibratePresence: "f.calibratePresence(still, { present: coming })",
  calibrateTuning:
    "f.calibrateTuning([0.2, 0.3].map((distance) => ({ distance, standardUncertainty: 2e-5, capture: ramp })), { wavelength })",
  checkCapture: "f.checkCapture(moving)",
  "checkCapture, of a ramp": "f.checkCapture(ramp)",
  checkCaptureStream: "f.checkCaptureStream(f.streamOfCapture(moving))",
  checkDiode: "f.checkDiode(ramp)",
  conditionSignal:
    "f.conditionSignal(moving, { couplingCorner: 1, mainsFrequency: 50 })",
  "conditionSignal, of a ramp": "f.conditionSignal(ramp)",
  countFringes: "f.countFringes(moving, { wavelength })",
  cutCapture: "f.cutCapture(moving, { from: 0.5 })",
  detrend: "f.detrend(samples)",
  measureDisplacementSpectrum:
    "f.measureDisplacementSpectrum(moving, { wavelength })",
  gatherDriveEvidence: "f.gatherDriveEvidence(ramp)",
  encodeCapture: "f.encodeCapture(moving)",
  "encodeCapture, as NPZ": "f.encodeCapture(moving, { format: 'NPZ' })",
  estimateFeedback: "f.estimateFeedback(moving, { wavelength })",
  estimateThermalLag: "f.estimateThermalLag(ramp)",
  filterZeroPhase:
    "f.filterZeroPhase(samples, f.butterworthSections(4, { pass: 'low', cutoff: 1e4 }, samplingRate), 1000)",
  findPresence: "f.findPresence(coming, f.calibratePresence(still))",
  findRamps: "f.findRamps(ramp)",
  "findRamps, of a stated drive":
    "f.findRamps(moving, { drive: { shape: 'triangle', frequency: 50, low: 0.03, high: 0.04, start: 0 } })",
  findTargets: "f.findTargets(ramp)",
  gatherFringeEvidence: "f.gatherFringeEvidence(moving)",
  highPass: "f.highPass(samples, 1e3, { samplingRate })",
  sweepFromCapture: "f.sweepFromCapture(ramp)",
  levelsOfSweep: "f.levelsOfSweep(coming, { from: 0.01, to: 0.06 })",
  lowPass: "f.lowPass(samples, 1e3, { samplingRate })",
  measureCapture: "f.measureCapture(moving, { wavelength })",
  convertDrive:
    "f.convertDrive(ofVoltage, { currentPerVoltage: 0.05, currentOffset: -0.065 })",
  "convertDrive, behind a capacitor":
    "f.convertDrive(ofVoltage, { currentPerVoltage: 0.05, currentOffset: 0.035, couplingCorner: 'find' })",
  "convertDrive, by a curve":
    "f.convertDrive(ofVoltage, { curve: [1.8, 1.9, 2, 2.1, 2.2].map((voltage) => ({ voltage, current: 0.1 * (voltage - 1.5) })) })",
  "measureCapture, of a speed": "f.measureCapture(running, { wavelength })",
  "measureCapture, of a ramp": "f.measureCapture(ramp, { wavelength })",
  measureDisplacement: "f.measureDisplacement(moving, { wavelength })",
  measureDistance:
    "f.measureDistance(ramp, { tuning: { tuning: { value: 8.3e-9, standardUncertainty: 1e-11 }, wavelength: { value: 650e-9, standardUncertainty: 1e-10 } } })",
  measureCaptureStream:
    "f.measureCaptureStream(f.streamOfCapture(moving), { wavelength })",
  measureLevel: "f.measureLevel(still)",
  measureMotion: "f.measureMotion(moving, { wavelength })",
  measureMotionStream:
    "f.measureMotionStream(f.streamOfCapture(moving), { wavelength })",
  measureResponse: "f.measureResponse(driven, { wavelength })",
  measureRingDown: "f.measureRingDown(moving, { wavelength })",
  measureRotation:
    "f.measureRotation(running, { wavelength, angle: 0.5, radius: 0.02 })",
  measureSpeed: "f.measureSpeed(running, { wavelength, angle: 0.5 })",
  measureSpeedStream:
    "f.measureSpeedStream(f.streamOfCapture(running), { wavelength, angle: 0.5 })",
  measureSteps: "f.measureSteps(ramp)",
  measureStepsStream: "f.measureStepsStream(f.streamOfCapture(ramp))",
  measureVibration: "f.measureVibration(moving, { wavelength })",
  measureWaveform: "f.measureWaveform(moving, { wavelength })",
  powerSpectrum: "f.powerSpectrum(samples, { samplingRate })",
  realFourierTransform: "f.realFourierTransform(samples)",
  recogniseMeasurement: "f.recogniseMeasurement(moving)",
  removeHum: "f.removeHum(samples, 50, { samplingRate })",
  showPitfalls: "f.showPitfalls(moving, { wavelength })",
  spectrogram: "f.spectrogram(samples, { samplingRate })",
  spectrogramStream: "f.spectrogramStream(f.streamOfCapture(moving))",
  thinTrace: "f.thinTrace(samples)",
  trackSpeed: "f.trackSpeed(running, { wavelength, angle: 0.5 })",
  trackSpeedStream:
    "f.trackSpeedStream(f.streamOfCapture(running), { wavelength, angle: 0.5 })",
  undoAmplifier: "f.undoAmplifier(samples, samplingRate, {})",
  undoCoupling: "f.undoCoupling(samples, 10, { samplingRate })",
  welch: "f.welch(samples, { samplingRate })",
  welchStream: "f.welchStream(f.streamOfCapture(moving))",
  writeCapture:
    "(async () => { const path = await Deno.makeTempFile({ dir: '.', suffix: '.wav.gz' }); try { await f.writeCapture(path, moving); } finally { await Deno.remove(path); } })()",
};

interface Described {
  readonly kind: string;
  readonly [key: string]: unknown;
}

/** Names of the exports that take a capture, a stream of one, or its samples. */
export async function takersOfCaptures(): Promise<string[]> {
  const { stdout } = await new Deno.Command(Deno.execPath(), {
    args: ["doc", "--json", ...doors],
    cwd: new URL("../../", import.meta.url),
    stderr: "null",
  }).output();
  const { nodes } = JSON.parse(new TextDecoder().decode(stdout)) as {
    nodes: Record<string, {
      symbols: { name: string; declarations: Described[] }[];
    }>;
  };
  const takes =
    /"(?:Capture|CaptureStream|BlockSource|ReferencePoint|NumberSequence)"/;
  return Object.values(nodes).flatMap(({ symbols }) => symbols)
    .filter(({ declarations }) =>
      declarations.some(({ kind, def }) =>
        kind === "function" &&
        takes.test(JSON.stringify((def as { params: unknown }).params))
      )
    )
    .map(({ name }) => name)
    .filter((name) => !lookups.includes(name))
    .sort();
}
