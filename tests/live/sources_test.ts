import { describe, expect, it } from "vitest";
import { fromFileUrl, join } from "@std/path";
import {
  createPipeSource,
  createSimulatedBench,
  measureSteps,
  readCapture,
  readReferenceReadings,
  recordSeries,
  watch,
} from "fringebook";
import {
  createInstrumentSource,
  createRecorderSource,
  type LiveSource,
  type LiveStream,
  type SeriesStep,
} from "fringebook/live";
import { task } from "../../lib/cli/watch.ts";
import { genericScpi } from "fringebook/capture";
import {
  type Fault,
  simulateInstrument,
} from "../capture/instrument_simulator.ts";
import { typed } from "../cli/typed.ts";
import { inCell, makePipe } from "./cell.ts";

const simulator = fromFileUrl(
  new URL("recorder_simulator.ts", import.meta.url),
);

const folder = await Deno.makeTempDir();
const file = (name: string) => join(folder, name);
globalThis.addEventListener(
  "unload",
  () => Deno.removeSync(folder, { recursive: true }),
);

/** All samples that a source gives, until it ends. */
async function drained(stream: LiveStream): Promise<number[][]> {
  const found: number[][] = stream.channels.map(() => []);
  const blocks = stream.blocks();
  for (;;) {
    const { value, done } = await blocks.next();
    if (done) return found;
    (value.samples as Float64Array[]).forEach((part, channel) =>
      found[channel]!.push(...part)
    );
  }
}

describe("a pipe", () => {
  it("gives every sample, and its end", async () => {
    await makePipe(file("pipe"));
    const values = Int16Array.from({ length: 20_000 }, (_, i) => i);
    const write = (async () => {
      const pipe = await Deno.open(file("pipe"), { write: true });
      const bytes = new Uint8Array(values.buffer);
      for (let at = 0; at < bytes.length;) {
        at += await pipe.write(bytes.subarray(at, at + 999));
      }
      pipe.close();
    })();
    const source = createPipeSource(file("pipe"), {
      raw: { type: "int16", channelCount: 2 },
      samplingRate: "10kHz",
    });
    const stream = await source.open();
    const samples = await drained(stream);
    await write;
    expect(samples.map(({ length }) => length)).toEqual([10_000, 10_000]);
    expect(samples[1]!.every((value, i) => value === 2 * i + 1)).toBe(true);
    expect(stream.channels[0]!.role).toBe("monitor signal");
    expect(stream.settings["assumed"]).toContain("first channel");
  });

  it("without a recorder is given up in words, also by the stop button", async () => {
    await makePipe(file("idle"));
    const options = { patience: "0.1s", samplingRate: "1kHz" };
    await expect(createPipeSource(file("idle"), options).open())
      .rejects.toThrow("no samples came within 0.1 s");
    await inCell(async (stop) => {
      setTimeout(stop, 50);
      await expect(watch(createPipeSource(file("idle"))))
        .rejects.toThrow("Stopped before a sample came");
    });
    await expect(createPipeSource(file("none")).open())
      .rejects.toThrow("no such file, pipe or device");
    await expect(createPipeSource(folder).open()).rejects.toThrow("a folder");
  });
});

describe("a file that grows", () => {
  it("is followed line by line, with a unit in its heading", async () => {
    const rows = (from: number, to: number) =>
      Array.from(
        { length: to - from },
        (_, i) => `${(from + i) / 1000},${from + i}\n`,
      ).join("");
    await Deno.writeTextFile(
      file("log.csv"),
      `time (s),photodiode (mV)\n${rows(0, 300)}`,
    );
    const stream = await createPipeSource(file("log.csv")).open();
    expect(stream.samplingRate).toBeCloseTo(1000, 6);
    setTimeout(
      () =>
        void Deno.writeTextFile(file("log.csv"), `${rows(300, 400)}0.4,4`, {
          append: true,
        }),
      30,
    );
    const samples: number[] = [];
    const blocks = stream.blocks();
    while (samples.length < 400) {
      samples.push(...(await blocks.next()).value!.samples[0]!);
    }
    await stream.close();
    expect((await blocks.next()).done).toBe(true);
    expect(samples.length).toBe(400);
    expect(samples[399]).toBeCloseTo(0.399, 12);
  });
});

describe("a recorder program", () => {
  it("is watched while it runs, recorded without a loss, and stopped at the end", async () => {
    const source = createRecorderSource(
      [Deno.execPath(), "run", "--quiet", simulator, "48000", "60"],
      {
        raw: { type: "int16", channelCount: 2 },
        samplingRate: "48kHz",
        channels: { "0": { role: "monitor signal", unit: "V", scale: 1e-4 } },
        ask: () => Promise.resolve(true),
      },
    );
    const { value: view, outputs } = await inCell((stop) =>
      watch(source, {
        record: file("run.wav"),
        interval: 0.05,
        displacement: { wavelength: "650nm" },
        onPicture: ({ time }) => {
          if (time > 0.6) stop();
        },
      })
    );
    expect(view.ended).toBe("stopped");
    expect(view.state).toBe("good");
    expect(view.warnings).toEqual([]);
    const recorded = await readCapture(file("run.wav"));
    const [, count] = recorded.channels;
    expect(recorded.sampleCount).toBeGreaterThan(0.6 * 48000);
    expect(count!.samples.every((value, i) => value === i % 65536 - 32768))
      .toBe(true);
    // Two outputs, each in its place, however many pictures there were.
    const first = outputs.filter(({ type }) => type === "display_data");
    expect(first.length).toBe(2);
    expect(new Set(outputs.map(({ displayId }) => displayId)).size).toBe(2);
    expect(outputs.length).toBeGreaterThan(4);
    const last = outputs.at(-2)!.data["text/html"]!;
    expect(last).toContain("GOOD".toLowerCase());
    // What stays is seen where a notebook is not trusted: pictures, no drawing.
    expect(last).not.toContain("<svg");
    expect(last).toContain("data:image/svg+xml;base64,");
    expect(outputs.at(-1)!.data["text/plain"]).toContain("recorded");
    expect(JSON.stringify(outputs.at(-2)).length).toBeLessThan(40_000);
  });
});

describe("an instrument on a local port", () => {
  const samples = Float64Array.from(
    { length: 4000 },
    (_, i) => 0.5 + 0.02 * Math.cos(20 * Math.sin(i / 300)),
  );

  async function seen(
    fault: Fault,
    options: { duration?: number; timeout?: number } = {},
  ) {
    const instrument = simulateInstrument(samples, fault);
    const { duration = 0.1, timeout = 2 } = options;
    try {
      const source = createInstrumentSource("127.0.0.1", {
        port: instrument.port,
        timeout,
        description: genericScpi,
        ask: () => Promise.resolve(true),
      });
      return (await inCell(() => watch(source, { duration, interval: 0.02 })))
        .value;
    } finally {
      await instrument.close();
    }
  }

  it("is asked again and again over one connection, each answer by itself", async () => {
    const view = await seen("none");
    expect(view.ended).toBe("duration");
    // 4000 samples of 2 µs each; what is kept is one acquisition.
    expect(view.capture!.sampleCount).toBe(4000);
    expect(view.capture!.samplingRate).toBeCloseTo(500e3, 3);
    expect(view.capture!.metadata["instrument"]).toContain("simulated");
    expect(view.diagnostics.frame.gaps).toBeGreaterThan(5);
    expect(view.warnings).toEqual([]);
  });

  for (
    const [fault, words] of [
      ["silent", "did not answer '*IDN?'"],
      ["hang up", "closed the connection"],
      ["junk block", "no valid block"],
      ["error queue", "The instrument reports"],
    ] as const
  ) {
    it(`that fails from the start is refused in words: ${fault}`, async () => {
      await expect(seen(fault, { timeout: 0.2 })).rejects.toThrow(words);
    });
  }

  it("that is slow is shown all the same", async () => {
    const view = await seen("slow", { duration: 0.02 });
    expect(view.ended).toBe("duration");
    expect(view.diagnostics.frame.time).toBeCloseTo(0.024, 9);
  });

  for (
    const [fault, words] of [
      ["stall later", "did not answer 'TRACe:DATA? CH1' within 1.3 s"],
      ["hang up later", "closed the connection"],
      ["junk later", "no valid block"],
    ] as const
  ) {
    it(`that fails while it is watched leaves what was kept: ${fault}`, async () => {
      const view = await seen(fault, { timeout: 1.3 });
      expect(view.ended).toBe("source failed");
      expect(view.warnings[0]!.message).toContain(words);
      expect(view.capture!.sampleCount).toBe(4000);
      expect(view.duration).toBeCloseTo(3 * 0.008, 9);
    });
  }

  it("that goes away leaves what was kept, and says so in the picture", async () => {
    const instrument = simulateInstrument(samples);
    const source = createInstrumentSource("127.0.0.1", {
      port: instrument.port,
      timeout: 1,
      ask: () => Promise.resolve(true),
    });
    let pictures = 0;
    const flaky: LiveSource = {
      name: source.name,
      async open() {
        const stream = await source.open();
        return {
          ...stream,
          async *blocks() {
            const blocks = stream.blocks();
            for (let k = 0; k < 4; k++) yield (await blocks.next()).value!;
            // The cable is pulled.
            stream.close();
            throw new Error("The connection failed at 'TRACe:DATA? CH1'");
          },
        };
      },
    };
    const { value: view, outputs } = await inCell(() =>
      watch(flaky, { record: file("gone.wav"), onPicture: () => pictures++ })
    );
    await instrument.close();
    expect(view.ended).toBe("source failed");
    expect(view.warnings[0]!.message).toContain("The connection failed");
    expect(outputs.at(-2)!.data["text/html"]).toContain("The source failed");
    expect(view.capture!.sampleCount).toBe(4000);
    // Four acquisitions, with a missing value between each.
    expect((await readCapture(file("gone.wav"))).sampleCount).toBe(16_003);
  });
});

describe("what goes wrong while a source is watched", () => {
  /** A source of a given rate whose blocks a test makes. */
  const made = (
    blocks: () => AsyncGenerator<number[]>,
    paced = true,
  ): LiveSource => ({
    name: "test",
    open: () =>
      Promise.resolve({
        samplingRate: 1000,
        paced,
        channels: [
          { name: "a", role: "monitor signal", unit: "V", fullScale: null },
        ],
        settings: {},
        async *blocks() {
          for await (const values of blocks()) {
            const isLine = values.length > 0;
            yield {
              samples: [Float64Array.from(values)],
              joined: isLine,
              lost: isLine ? 0 : 7,
              garbage: isLine ? 0 : 3,
            };
          }
        },
        close: () => {},
      }),
  });
  const pause = (ms: number) => new Promise((r) => setTimeout(r, ms));

  it("is said in the picture: stalled, lost, garbage", async () => {
    const said = new Set<string>();
    const states = new Set<string>();
    const source = made(async function* () {
      yield Array.from({ length: 400 }, (_, i) => Math.sin(i));
      yield [];
      await pause(1250);
      yield Array.from({ length: 400 }, (_, i) => Math.sin(i));
    });
    const { value: view } = await inCell(() =>
      watch(source, {
        onPicture: ({ faults, sourceState }) => {
          states.add(sourceState);
          for (const fault of faults) said.add(fault.replace(/\d+/, "N"));
        },
      })
    );
    expect([...states]).toEqual(["running", "stalled"]);
    expect([...said]).toContain(
      "No samples for N s: the recorder or the instrument stands still.",
    );
    expect([...said]).toContain("N samples were lost.");
    expect([...said].join()).toContain("lines were no samples");
    expect(view.ended).toBe("source ended");
    expect(view.lost).toBe(7);
  });

  it("a full disk ends the recording, and what was written is kept", async () => {
    // The size of the files of this one process is limited to 100 blocks of 1 KiB.
    const program = `
      import { createSimulatedBench, watch } from "fringebook";
      const bench = createSimulatedBench({ pace: 50, focus: 0 });
      const view = await watch(bench, { duration: 4, record: ${
      JSON.stringify(file("full.wav"))
    } });
      console.log(JSON.stringify([view.ended, view.recording]));
    `;
    await Deno.writeTextFile(file("full.ts"), program);
    const { stdout, stderr } = await new Deno.Command("bash", {
      args: [
        "-c",
        `trap '' XFSZ; ulimit -f 100; exec "$0" run -A --quiet --no-check --no-code-cache --config deno.json "$1"`,
        Deno.execPath(),
        file("full.ts"),
      ],
      cwd: new URL("../../", import.meta.url),
    }).output();
    const decoder = new TextDecoder();
    const lines = decoder.decode(stdout).trim().split("\n");
    expect([lines.length > 1, decoder.decode(stderr)]).toEqual([true, ""]);
    const [ended, recording] = JSON.parse(lines.at(-1)!);
    expect(ended).toBe("duration");
    expect(recording.fault).toContain("What was recorded until then is kept");
    const kept = await readCapture(file("full.wav"));
    expect(kept.sampleCount).toBe(recording.samples);
    expect(kept.sampleCount).toBeGreaterThan(5000);
    expect(kept.sampleCount).toBeLessThan(102_400 / 8);
  });
});

describe("a series", () => {
  it("leads from distance to distance, takes again what is not good, and ends in a list that the calibration reads", async () => {
    const bench = createSimulatedBench({
      pace: 40,
      focus: 0.1e-3,
      motionAmplitude: 0,
      rampAmplitude: "3mA",
    });
    const steps: SeriesStep[] = [];
    const series = await recordSeries(bench, {
      distances: ["60mm", "90mm", "120mm"],
      standardUncertainty: "0.1mm",
      folder: file("readings"),
      captureDuration: "0.2s",
      interval: 0.03,
      duration: 20,
      diode: {
        wavelength: "650nm",
        ratedCurrent: "45mA",
        ratedPower: "5mW",
      },
      ready: (step) => {
        steps.push(step);
        bench.distance = step.distance;
        // At the second distance the beam is blocked at first.
        bench.blocked = step.number === 2 && step.attempt === 1;
      },
    });
    expect(steps.map(({ number, attempt }) => [number, attempt]))
      .toEqual([[1, 1], [2, 1], [2, 2], [3, 1]]);
    expect(steps[2]!.reason).toContain("it waited for good fringes");
    expect(series.warnings).toEqual([]);
    expect(await readReferenceReadings(series.list)).toEqual([
      {
        file: "60mm.wav",
        counted: null,
        distance: 0.06,
        standardUncertainty: 1e-4,
      },
      {
        file: "90mm.wav",
        counted: null,
        distance: 0.09,
        standardUncertainty: 1e-4,
      },
      {
        file: "120mm.wav",
        counted: null,
        distance: 0.12,
        standardUncertainty: 1e-4,
      },
    ]);
    expect(series.next).toContain("new-calibration --readings");
    // N = 2 n L Δλ / λ²: 8 pm/mA over 6 mA; the library's own count says so too.
    for (const { capture, distance } of series.points) {
      const { steps } = measureSteps(capture!, { estimator: "phase slope" });
      const expected = 2 * 1.00027 * distance * 48e-12 / 650e-9 ** 2;
      expect(steps.value / expected).toBeCloseTo(1, 2);
      expect(capture!.metadata["taken"]).toContain("started by the drive");
    }
  });

  it("that is ended early keeps what it has, and a person may leave one out", async () => {
    const bench = createSimulatedBench({
      pace: 40,
      focus: 0,
      motionAmplitude: 0,
      rampAmplitude: "3mA",
    });
    const { value: series } = await inCell(
      () =>
        recordSeries(bench, {
          distances: ["80mm", "90mm", "100mm"],
          folder: file("early"),
          captureDuration: "0.2s",
          interval: 0.03,
        }),
      ["skip", "", "end"],
    );
    expect(series.readings.map(({ file }) => file)).toEqual(["90mm.wav"]);
    expect(series.leftOut).toEqual([0.08, 0.1]);
  });
});

describe("deno task watch", () => {
  it("takes a capture of the simulated bench and writes it", async () => {
    const path = file("taken.csv");
    const { code, said } = await typed(
      task,
      ...["--simulate", "--take", path, "--take-duration", "50ms"],
      ...["--trigger", "level", "--wavelength", "650nm"],
      ...["--rated-current", "45mA", "--rated-power", "5mW"],
    );
    expect(code).toBe(0);
    expect(said).toContain("GOOD");
    expect(said).toContain("Class 3R at the rated 45 mA".slice(0, 8));
    const capture = await readCapture(path);
    expect(capture.sampleCount).toBe(2400);
    expect(capture.metadata["live source"]).toBe("simulated bench");
  });

  it("says what is missing", async () => {
    for (
      const [words, ...given] of [
        ["one source is needed"],
        ["one source is needed", "pipe", "--simulate"],
        ["give --sampling-rate", "pipe", "--raw", "int16"],
        ["go together", "--simulate", "--rated-current", "45mA"],
        ["names no unit", "--simulate", "--series", "60,90"],
        ["no such file, pipe or device", file("nowhere")],
      ] as const
    ) {
      const { code, said } = await typed(task, ...given);
      expect(code).toBeGreaterThan(0);
      expect(said).toContain(words);
    }
  });
});
