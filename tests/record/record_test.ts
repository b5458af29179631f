import { encodeHex } from "@std/encoding/hex";
import {
  calibrateTuning,
  calibrationCertificate,
  type CalibrationRecord,
  createCalibrationRecord,
  loadCalibrationRecord,
  measureDistance,
  rampCurrent,
  saveCalibrationRecord,
  simulateCapture,
  traceabilityStatement,
  tuningFromRecord,
} from "fringebook";
import {
  calibrationRecordSchema,
  recordFromCsv,
  recordToCsv,
} from "fringebook/record";
import { describe, expect, it } from "vitest";

const capture = (
  distance: number,
  frequency = 10,
  thermalTimeConstant = 0,
) =>
  simulateCapture({
    distance,
    refractiveIndex: 1.00027,
    current: rampCurrent({ low: 0.038, high: 0.042, frequency }),
    samplingRate: 5e3,
    duration: 0.3,
    noise: { signalToNoiseRatio: 30 },
    seed: Math.round(1e6 * distance),
    diode: { thermalTimeConstant },
    // The simulated lag advances in steps, which are to be short beside it.
    oversampling: thermalTimeConstant > 0 ? 8 : 1,
  });
const calibration = calibrateTuning(
  [0.1, 0.13, 0.16, 0.2, 0.25].map((distance) => ({
    distance,
    standardUncertainty: 20e-6,
    capture: capture(distance),
  })),
  { wavelength: 650e-9, wavelengthStandardUncertainty: 0.5e-9 },
);
const options = {
  title: 'Red diode <1> of bench "A"',
  operator: "A. Student & B. Teacher",
  calibratedAt: "2026-11-25T10:00:00Z",
  validUntil: "2027-05-25T00:00:00Z",
  temperature: 22.5,
  temperatureRange: { low: 20, high: 25 },
  instruments: [
    {
      role: "distance scale",
      identification: "stage 1",
      certificate: "K-17",
      certificateValidUntil: "2027-01-01",
    },
    { role: "ammeter", identification: "meter 4" },
  ],
  air: { temperature: 22, pressure: 101000, humidity: 40 },
  notebook: "tuning_calibration.ipynb",
};
const record = await createCalibrationRecord(calibration, options);

/** Runs a body with a folder of its own. */
async function withFolder(body: (folder: string) => Promise<void>) {
  const folder = await Deno.makeTempDir();
  try {
    await body(folder);
  } finally {
    await Deno.remove(folder, { recursive: true });
  }
}

/** The rejection of a promise; fails if it is fulfilled. */
async function rejection(promise: Promise<unknown>): Promise<Error> {
  try {
    await promise;
  } catch (error) {
    return error as Error;
  }
  throw new Error("the promise was fulfilled");
}

describe("calibration records", () => {
  it("come back from a file as they were", async () => {
    await withFolder(async (folder) => {
      const path = await saveCalibrationRecord(record, folder);
      expect(await loadCalibrationRecord(path)).toEqual(
        JSON.parse(JSON.stringify(record)),
      );
      // No temporary file is left beside it.
      expect([...Deno.readDirSync(folder)].length).toBe(1);
    });
  });

  it("are never overwritten; a revision links to the one before", async () => {
    await withFolder(async (folder) => {
      const path = await saveCalibrationRecord(record, folder);
      const before = await Deno.readTextFile(path);
      const error = await rejection(saveCalibrationRecord(record, folder));
      expect(error.message).toContain("never overwritten");
      expect(await Deno.readTextFile(path)).toBe(before);
      const next = await createCalibrationRecord(calibration, {
        ...options,
        remarks: "second",
        revises: record,
        reason: "calibrated again after half a year",
      });
      expect(next.id).toBe(record.id);
      expect(next.revision).toBe(2);
      expect(next.replaces).toEqual({
        revision: 1,
        digest: record.integrity.digest,
      });
      expect(await saveCalibrationRecord(next, folder)).not.toBe(path);
      expect([...Deno.readDirSync(folder)].length).toBe(2);
    });
  });

  it("are refused when one digit was changed", async () => {
    await withFolder(async (folder) => {
      const path = await saveCalibrationRecord(record, folder);
      const text = await Deno.readTextFile(path);
      const changed = JSON.parse(text) as CalibrationRecord;
      (changed.values.tuning as { value: number }).value *= 1.000001;
      await Deno.writeTextFile(path, JSON.stringify(changed));
      expect((await rejection(loadCalibrationRecord(path))).message)
        .toContain("does not match its hash");
      // Spaces and the order of the keys do not matter.
      const turned = Object.fromEntries(
        Object.entries(JSON.parse(text)).reverse(),
      );
      await Deno.writeTextFile(path, JSON.stringify(turned));
      expect((await loadCalibrationRecord(path)).id).toBe(record.id);
    });
  });

  it("are refused when they are no JSON or not of the schema", async () => {
    await withFolder(async (folder) => {
      const path = `${folder}/x.json`;
      for (
        const [text, message] of [
          ["", "not JSON"],
          ["{", "not JSON"],
          ["[1, 2]", "not a calibration record"],
          ["null", "not a calibration record"],
          [
            JSON.stringify({ ...record, operator: 5 }),
            '/operator: Instance type "number" is invalid',
          ],
        ] as const
      ) {
        await Deno.writeTextFile(path, text);
        expect((await rejection(loadCalibrationRecord(path))).message)
          .toContain(message);
      }
    });
  });

  it("are read as well under the schema's earlier name", async () => {
    await withFolder(async (folder) => {
      const { integrity, ...content } = JSON.parse(JSON.stringify(record));
      content.$schema =
        "https://fringebook.example/schema/calibration_record/1.0.0";
      // SHA-256 over the JSON with sorted keys, as the schema says.
      const sorted = (value: unknown): unknown =>
        Array.isArray(value)
          ? value.map(sorted)
          : typeof value === "object" && value !== null
          ? Object.fromEntries(
            Object.entries(value).sort(([a], [b]) => a < b ? -1 : 1)
              .map(([key, item]) => [key, sorted(item)]),
          )
          : value;
      const digest = encodeHex(
        await crypto.subtle.digest(
          "SHA-256",
          new TextEncoder().encode(JSON.stringify(sorted(content))),
        ),
      );
      const path = `${folder}/old.json`;
      await Deno.writeTextFile(
        path,
        JSON.stringify({ ...content, integrity: { ...integrity, digest } }),
      );
      expect((await loadCalibrationRecord(path)).id).toBe(record.id);
    });
  });

  it("the published schema is a JSON Schema and names every field", () => {
    expect(calibrationRecordSchema.$schema)
      .toBe("https://json-schema.org/draft/2020-12/schema");
    // A URN of the namespace "uuid" (RFC 9562, 4).
    expect(calibrationRecordSchema.$id)
      .toMatch(/^urn:uuid:[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/);
    expect(record.$schema).toBe(calibrationRecordSchema.$id);
    const { required, then } = calibrationRecordSchema as {
      required: string[];
      then: { required: string[] };
    };
    expect(Object.keys(record).sort())
      .toEqual([...required, ...then.required].sort());
  });

  it("measure the same distance as the calibration they come from", () => {
    const tuning = tuningFromRecord(record, {
      at: new Date("2026-12-01"),
      temperature: 22,
    });
    const direct = measureDistance(capture(0.18), { tuning: calibration });
    const recorded = measureDistance(capture(0.18), { tuning });
    expect(recorded.distance).toEqual(direct.distance);
    expect(recorded.warnings).toEqual(direct.warnings);
  });

  it("keep the thermal time constant, with which distances are then counted", async () => {
    const lagging = calibrateTuning(
      [0.1, 0.13, 0.16, 0.2, 0.25].map((distance) => ({
        distance,
        standardUncertainty: 20e-6,
        capture: capture(distance, 10, 2e-3),
      })),
      { wavelength: 650e-9 },
    );
    const kept = await createCalibrationRecord(lagging, options);
    // That of the simulation, to a tenth of a sample in 2 ms.
    expect(Math.abs(kept.conditions.thermalTimeConstant! / 2e-3 - 1))
      .toBeLessThan(0.02);
    const at = new Date("2026-12-01");
    const tuning = tuningFromRecord(kept, { at });
    const { distance, diagnostics, warnings } = measureDistance(
      capture(0.18, 10, 2e-3),
      { tuning },
    );
    expect(diagnostics.steps.thermalTimeConstant.value)
      .toBe(kept.conditions.thermalTimeConstant);
    expect(warnings.map(({ code }) => code)).not.toContain("lag-unknown");
    // The true distance, within the expanded uncertainty with some room.
    expect(Math.abs(distance.value - 0.18))
      .toBeLessThan(3 * distance.standardUncertainty);
    // A record from before says nothing of a lag, and that is said.
    const { thermalTimeConstant: _, ...before } = kept.conditions;
    const old = tuningFromRecord({ ...kept, conditions: before }, { at });
    expect(
      measureDistance(capture(0.18, 10, 2e-3), { tuning: old }).warnings
        .map(({ code }) => code),
    ).toContain("lag-unknown");
  });

  it("warn in every result when they are used after their date", () => {
    const tuning = tuningFromRecord(record, { at: new Date("2027-06-01") });
    expect(
      measureDistance(capture(0.18), { tuning }).warnings
        .map(({ code }) => code),
    ).toContain("record-expired");
  });

  it("warn when the diode is at another temperature, current or frequency", () => {
    const at = new Date("2026-12-01");
    const warm = tuningFromRecord(record, { at, temperature: 31 });
    expect(
      measureDistance(capture(0.18), { tuning: warm }).warnings
        .map(({ code }) => code),
    ).toContain("record-outside-temperature");
    const tuning = tuningFromRecord(record, { at });
    expect(
      measureDistance(capture(0.18, 20), { tuning }).warnings
        .map(({ code }) => code),
    ).toContain("outside-frequency");
    const further = simulateCapture({
      distance: 0.18,
      current: rampCurrent({ low: 0.040, high: 0.044, frequency: 10 }),
      samplingRate: 5e3,
      duration: 0.3,
    });
    expect(
      measureDistance(further, { tuning }).warnings
        .map(({ code }) => code),
    ).toContain("outside-current-range");
  });

  it("go through CSV without loss", async () => {
    const text = recordToCsv(record);
    expect(text.split("\n")[0]!.trim()).toBe("place,value");
    expect(await recordFromCsv(text)).toEqual(
      JSON.parse(JSON.stringify(record)),
    );
    expect((await rejection(recordFromCsv("a,b\n1,2\n"))).message)
      .toContain("place,value");
    expect((await rejection(recordFromCsv(text.replace("0.1", "0.11")))).name)
      .toBe("RecordError");
  });

  it("print a certificate with escaped text and no script", () => {
    const html = calibrationCertificate(record);
    expect(html).toContain("Red diode &lt;1&gt; of bench &quot;A&quot;");
    expect(html).toContain("A. Student &amp; B. Teacher");
    expect(html).not.toContain("<script");
    expect(html).toContain(record.integrity.digest);
    expect(html).toContain("size: A4");
    expect(html).toContain("nm/mA; k = 2.");
    expect(html).not.toContain("pm/mA");
  });

  it("say of traceability only what is true", async () => {
    expect(traceabilityStatement(record)).toContain("certificate K-17");
    const expired = await createCalibrationRecord(calibration, {
      ...options,
      instruments: [{
        ...options.instruments[0]!,
        certificateValidUntil: "2025-01-01",
      }],
    });
    expect(traceabilityStatement(expired)).toContain("not traceable to the SI");
    const onlyMeter = await createCalibrationRecord(calibration, {
      ...options,
      instruments: [{
        role: "ammeter",
        identification: "meter 4",
        certificate: "E-3",
        certificateValidUntil: "2027-01-01",
      }],
    });
    expect(traceabilityStatement(onlyMeter)).toContain(
      "None is stated for the distance scale",
    );
  });

  it("are refused for a capture file that was not hashed", async () => {
    const unhashed = {
      ...calibration,
      provenance: {
        ...calibration.provenance,
        captures: [{ fileName: "a.csv", sha256: null }],
      },
    };
    const error = await rejection(createCalibrationRecord(unhashed, options));
    expect(error.message).toContain("capture 'a.csv' was not hashed");
  });

  it("need a title, an operator and dates that make sense", async () => {
    for (
      const [change, message] of [
        [{ title: " " }, "'title' is empty"],
        [{ operator: "" }, "'operator' is empty"],
        [{ validUntil: "soon" }, "not a date"],
        [{ validUntil: "2026-01-01" }, "must come after"],
      ] as const
    ) {
      const error = await rejection(
        createCalibrationRecord(calibration, { ...options, ...change }),
      );
      expect(error.message).toContain(message);
    }
  });
});
