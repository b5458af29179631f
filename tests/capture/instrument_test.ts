import { describe, expect, it } from "vitest";
import {
  captureFromInstrument,
  captureFromRecorder,
  createCapture,
  encodeCapture,
  InstrumentError,
} from "fringebook";
import { genericScpi, parseInstrumentDescription } from "fringebook/capture";
import {
  type Fault,
  type SimulatedInstrument,
  simulateInstrument,
} from "./instrument_simulator.ts";

// Blocks: IEEE 488.2-1992, 8.7.9 and 8.7.10 (definite and indefinite length
// arbitrary block response data). Commands: SCPI-1999.

const samples = Float64Array.from(
  { length: 5000 },
  // No sample byte is a newline: indefinite blocks end at the first one.
  (_, n) => 0.5 + (n % 2) / 4,
);

async function withInstrument(
  fault: Fault,
  work: (
    take: (timeout?: number) => ReturnType<typeof captureFromInstrument>,
    instrument: SimulatedInstrument,
  ) => Promise<void>,
): Promise<void> {
  const instrument = simulateInstrument(samples, fault);
  try {
    await work(
      (timeout = 5) =>
        captureFromInstrument("127.0.0.1", {
          port: instrument.port,
          timeout,
          ask: () => Promise.resolve(true),
          maximumSize: 1e6,
        }),
      instrument,
    );
  } finally {
    await instrument.close();
  }
}

const reasonOf = async (promise: Promise<unknown>) => {
  try {
    await promise;
    return "no error";
  } catch (error) {
    return error instanceof InstrumentError ? error.reason : String(error);
  }
};

describe("captureFromInstrument", () => {
  for (const fault of ["none", "ascii", "indefinite block"] as const) {
    it(`reads samples sent as ${fault === "none" ? "block" : fault}`, () =>
      withInstrument(fault, async (take, instrument) => {
        const capture = await take();
        expect(capture.channels[0]!.samples).toEqual(samples);
        expect(capture.channels[0]!.role).toBe("monitor signal");
        expect(capture.samplingRate).toBe(1 / 2e-6);
        expect(capture.metadata.instrument).toBe("teaching lab,simulated,0,1");
        expect(instrument.received).toEqual([
          "*IDN?",
          "*CLS",
          "FORMat:DATA REAL,64",
          "FORMat:BORDer SWAPped",
          "INITiate:IMMediate",
          "*OPC?",
          "SENSe:SWEep:TINTerval?",
          "TRACe:DATA? CH1",
          "SYSTem:ERRor?",
        ]);
      }));
  }
  const faults: [Fault, string][] = [
    ["short block", "bad block"],
    ["endless block", "bad block"],
    ["junk block", "bad block"],
    ["silent", "no answer"],
    ["error queue", "instrument error"],
    ["bad interval", "bad answer"],
    ["hang up", "connection closed"],
  ];
  for (const [fault, reason] of faults) {
    it(`says '${reason}' for ${fault}`, () =>
      withInstrument(fault, async (take) => {
        expect(await reasonOf(take(0.3))).toBe(reason);
      }));
  }
  it("asks before it connects, naming host and port", async () => {
    const asked: string[] = [];
    const reason = await reasonOf(captureFromInstrument("192.0.2.1", {
      ask: ({ kind, name }) => {
        asked.push(`${kind} ${name}`);
        return Promise.resolve(false);
      },
    }));
    expect(reason).toBe("not allowed");
    expect(asked).toEqual(["host 192.0.2.1:5025"]);
  });
  it("says so when nobody listens", async () => {
    const instrument = simulateInstrument(samples);
    await instrument.close();
    expect(
      await reasonOf(captureFromInstrument("127.0.0.1", {
        port: instrument.port,
        ask: () => Promise.resolve(true),
      })),
    ).toBe("no connection");
  });
});

describe("parseInstrumentDescription", () => {
  it("names the field that is wrong", () => {
    const change = (path: string, value: unknown) => {
      const json = JSON.parse(JSON.stringify(genericScpi));
      const keys = path.split(".");
      let object = json;
      for (const key of keys.slice(0, -1)) object = object[key];
      object[keys.at(-1)!] = value;
      try {
        parseInstrumentDescription(json);
        return "no error";
      } catch (error) {
        return (error as Error).message;
      }
    };
    expect(change("port", 5025)).toBe("no error");
    expect(change("port", 0)).toContain("'port'");
    expect(change("channels", [])).toContain("'channels'");
    expect(change("channels.0.type", "toString")).toContain("'type'");
    expect(change("channels.0.role", "boss")).toContain("'role'");
    expect(change("channels.0.scale", "2")).toContain("'scale'");
    expect(change("channels.0.data", "A?\nB?")).toContain("'data'");
    expect(change("setup", ["*RST\n*CLS"])).toContain("'setup'");
    expect(change("sampleInterval", undefined)).toContain("'sampleInterval'");
  });
  it("scales counts by numbers or by queries", async () => {
    const instrument = simulateInstrument(samples);
    try {
      const description = parseInstrumentDescription({
        ...genericScpi,
        channels: [{
          ...genericScpi.channels[0],
          reference: 0.5,
          scale: { query: "*OPC?" },
          offset: 2,
        }],
      });
      const capture = await captureFromInstrument("127.0.0.1", {
        port: instrument.port,
        description,
        ask: () => Promise.resolve(true),
      });
      expect(Array.from(capture.channels[0]!.samples.subarray(0, 2)))
        .toEqual([2, 2.25]);
    } finally {
      await instrument.close();
    }
  });
});

describe("captureFromRecorder", () => {
  const allow = { ask: () => Promise.resolve(true) };
  const program = Deno.execPath();
  const recorder = (script: string) => [
    program,
    "eval",
    "--no-config",
    script,
  ];
  const wav = encodeCapture(
    createCapture([{
      name: "a",
      role: "monitor signal",
      unit: "V",
      samples: Float64Array.of(0.25, -0.5),
    }], { samplingRate: 48e3 }),
    { format: "WAV" },
  );
  const write = (bytes: Uint8Array) =>
    `await Deno.stdout.write(Uint8Array.from([${[...bytes].join(",")}]));`;
  it("reads the WAV file that a program writes", async () => {
    const capture = await captureFromRecorder(recorder(write(wav)), allow);
    expect(Array.from(capture.channels[0]!.samples)).toEqual([0.25, -0.5]);
    expect(capture.startTime).toMatch(/^\d{4}-.*Z$/);
  });
  it("takes a size of zero or all ones for a stream of unknown length", async () => {
    for (const size of [0, 0x7fffffff, 0xffffffff]) {
      const bytes = wav.slice();
      new DataView(bytes.buffer).setUint32(bytes.length - 20, size, true);
      const capture = await captureFromRecorder(recorder(write(bytes)), allow);
      expect(Array.from(capture.channels[0]!.samples)).toEqual([0.25, -0.5]);
      expect(capture.warnings.map(({ code }) => code))
        .toEqual(["length-unknown"]);
    }
  });
  it("reads bare samples whose type is given", async () => {
    const capture = await captureFromRecorder(
      recorder(write(Uint8Array.of(1, 0, 2, 0))),
      { ...allow, raw: { type: "int16" }, samplingRate: 8000 },
    );
    expect(Array.from(capture.channels[0]!.samples)).toEqual([1, 2]);
  });
  it("tells what a failing program complained", async () => {
    const command = recorder("console.error('no sound card'); Deno.exit(3)");
    const failed = captureFromRecorder(command, allow);
    expect(await reasonOf(failed)).toBe("recorder failed");
    await failed.catch((error) =>
      expect(error.message).toContain("no sound card")
    );
  });
  it("stops a program that never ends and reads what it wrote", async () => {
    const command = recorder(
      `${write(wav)} await new Promise((r) => setTimeout(r, 60_000));`,
    );
    const capture = await captureFromRecorder(command, {
      ...allow,
      timeout: 1.5,
    });
    expect(capture.sampleCount).toBe(2);
  });
  it("refuses no program, one that is not there and one not allowed", async () => {
    expect(await reasonOf(captureFromRecorder([], allow)))
      .toContain("no program is given");
    expect(await reasonOf(captureFromRecorder(["/no/such/program"], allow)))
      .toBe("no program");
    expect(
      await reasonOf(
        captureFromRecorder(["x"], { ask: () => Promise.resolve(false) }),
      ),
    ).toBe("not allowed");
  });
});
