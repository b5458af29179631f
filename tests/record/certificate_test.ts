import {
  calibrateTuning,
  calibrationCertificate,
  checkCalibrationRecord,
  createCalibrationRecord,
  createSigningKey,
  findLatestCalibrationRecord,
  loadCalibrationRecord,
  quantity,
  rampCurrent,
  saveCalibrationRecord,
  signCalibrationRecord,
  simulateCapture,
} from "fringebook";
import {
  fingerprintOfKey,
  loadRecordSignature,
  unstatedOf,
} from "fringebook/record";
import { JSDOM } from "jsdom";
import { describe, expect, it } from "vitest";

const calibrate = (error: number) =>
  calibrateTuning(
    [0.1, 0.14, 0.19, 0.25].map((distance, index) => ({
      distance: distance + (index % 2) * error,
      standardUncertainty: 20e-6,
      capture: simulateCapture({
        distance,
        current: rampCurrent({ low: 0.038, high: 0.042, frequency: 10 }),
        samplingRate: 5e3,
        duration: 0.3,
        noise: { signalToNoiseRatio: 30 },
        seed: Math.round(1e6 * distance),
      }),
    })),
    {
      wavelength: 650e-9,
      wavelengthStandardUncertainty: 0.5e-9,
      currentScaleRelativeStandardUncertainty: 0.002,
      distanceScaleRelativeStandardUncertainty: 0.0005,
    },
  );
const calibration = calibrate(0);
const bare = {
  title: "Red diode <b>of bench 1</b>",
  operator: null,
  calibratedAt: "2026-11-25T10:00:00Z",
  validUntil: "2027-05-25T00:00:00Z",
};
const full = {
  ...bare,
  operator: "A. Student",
  item: "laser diode, mark D-7 on its mount",
  laboratory: "Teaching laboratory, room 12",
  place: "bench 1",
  customer: "course on interferometry",
  approvedBy: "B. Teacher",
  deviations: ["one ramp fewer at 140 mm"],
  temperature: 24.5,
  air: { temperature: 22, pressure: 101300, humidity: 40 },
  instruments: [{
    role: "distance scale",
    identification: "rail 1",
    certificate: "K-17",
    certificateValidUntil: "2027-01-01",
  }],
  notebook: "calibration.ipynb",
};
const record = await createCalibrationRecord(calibration, full);

async function withFolder(body: (folder: string) => Promise<void>) {
  const folder = await Deno.makeTempDir();
  try {
    await body(folder);
  } finally {
    await Deno.remove(folder, { recursive: true });
  }
}

describe("a certificate", () => {
  const html = calibrationCertificate(record);
  const { document } = new JSDOM(html).window;
  const text = document.body.textContent!.replace(/\s+/g, " ");

  // What ISO/IEC 17025:2017, 7.8.2.1 and 7.8.4.1, asks for; from memory.
  for (
    const [point, ...found] of [
      ["7.8.2.1 a: a title", "Calibration certificate"],
      ["b: name and address of the laboratory", "Teaching laboratory, room 12"],
      ["c: where the work was done", "Place of calibration", "bench 1"],
      ["d: identification of the certificate", record.id, "revision 1"],
      ["e: the customer", "Customer or course", "course on interferometry"],
      ["f: the method", "York et al. 2004"],
      ["g: the item", "laser diode, mark D-7 on its mount"],
      ["i: the date of the work", "2026-11-25"],
      ["l: it holds for this item", "hold for this item alone"],
      ["m: results with units", "nm/mA", "GHz/mA"],
      ["n: deviations", "one ramp fewer at 140 mm"],
      ["o: who answers for it", "B. Teacher"],
      ["7.8.4.1 a: the uncertainty of the result", "k = 2.", "νeff", "95 %"],
      ["b: the conditions", "24.5 °C", "1013 hPa", "40 % relative humidity"],
      ["c: traceability", "certificate K-17", "not by an accredited"],
    ] as const
  ) {
    it(`states ${point}`, () => {
      for (const item of found) expect(text).toContain(item);
    });
  }
  it("numbers its pages and names itself on each", () => {
    expect(html).toContain('counter(page) " of " counter(pages)');
    expect(html).toContain(`Certificate ${record.id}, revision 1`);
  });
  it("escapes what people wrote, and carries no script", () => {
    expect(html).toContain("Red diode &lt;b&gt;of bench 1&lt;/b&gt;");
    expect(document.querySelectorAll("script").length).toBe(0);
  });
  it("says once what nobody stated, lists it, and shows no placeholder", async () => {
    const empty = calibrationCertificate(
      await createCalibrationRecord(calibration, bare),
    );
    const shown = new JSDOM(empty).window.document;
    const list = shown.querySelector(".unstated")!.textContent!;
    const bareRecord = await createCalibrationRecord(calibration, bare);
    expect(list).toBe(`Not stated: ${unstatedOf(bareRecord).join(", ")}.`);
    // Each line of the page that says so is in the list, and no other
    const rows = [...shown.querySelectorAll("tr, p")].filter((row) =>
      /not stated\.?$/.test(row.textContent!)
    );
    expect(rows.length).toBe(unstatedOf(bareRecord).length);
    expect(unstatedOf(record)).toEqual([]);
    for (
      const name of [
        "item",
        "laboratory",
        "place of calibration",
        "customer or course",
        "temperature of the diode",
        "air",
        "calibrated by",
      ]
    ) expect(list).toContain(name);
    for (const text of ["this notebook", "name of", "not measured", "null"]) {
      expect(shown.body.textContent).not.toContain(text);
    }
    expect(document.querySelector(".unstated")).toBe(null);
  });
  it("names under the result what was taken as exact", () => {
    expect(calibrationCertificate(record)).toContain(
      "Taken as exact, as no uncertainty of it was stated: refractive index of the air.",
    );
  });
  it("names one unit of tuning and one temperature of the diode", () => {
    expect(text).not.toContain("pm/mA");
    expect(text.match(/Temperature of the diode/g)?.length).toBe(1);
    expect(text).not.toContain("not stated");
  });
  it("has a budget whose lines add in squares to the uncertainty", () => {
    const sum = Math.hypot(
      ...record.budget!.map(({ contribution }) => contribution),
    );
    // The same sums in another order
    expect(sum / record.values.tuning.standardUncertainty).toBeCloseTo(1, 10);
  });
  it("has the degrees of freedom of Welch and Satterthwaite", async () => {
    // JCGM 100:2008, G.4.1: ν = u⁴ / Σ uᵢ⁴ / νᵢ, where the points scatter more
    // than stated: four of them leave the slope with two degrees of freedom.
    const scattered = await createCalibrationRecord(calibrate(1e-3), full);
    const { tuning } = scattered.values;
    expect(scattered.budget![0]!.degreesOfFreedom).toBe(2);
    const below = scattered.budget!.reduce(
      (sum, { contribution, degreesOfFreedom }) =>
        degreesOfFreedom === null
          ? sum
          : sum + contribution ** 4 / degreesOfFreedom,
      0,
    );
    expect(tuning.standardUncertainty ** 4 / below / tuning.degreesOfFreedom!)
      .toBeCloseTo(1, 9);
    expect(calibrationCertificate(scattered)).toContain(
      `ν<sub>eff</sub> = ${Math.floor(tuning.degreesOfFreedom!)}`,
    );
  });
});

describe("revisions of a record", () => {
  const revised = (reason: string | null) =>
    createCalibrationRecord(calibration, { ...full, revises: record, reason });
  it("need a reason, which the certificate states", async () => {
    await expect(revised(null)).rejects.toThrow("'reason' is empty");
    await expect(
      createCalibrationRecord(calibration, { ...full, reason: "again" }),
    ).rejects.toThrow("names none");
    expect(calibrationCertificate(await revised("the diode was replaced")))
      .toContain("revision 1: the diode was replaced");
  });
  it("are refused where their chain is broken", async () => {
    await withFolder(async (folder) => {
      const next = await revised("later");
      // Nothing to revise there
      await expect(saveCalibrationRecord(next, folder)).rejects
        .toThrow("is missing");
      const first = await saveCalibrationRecord(record, folder);
      const second = await saveCalibrationRecord(next, folder);
      expect((await findLatestCalibrationRecord(folder))!.revision).toBe(2);
      // Another first revision takes the place of the one that was replaced.
      const other = await createCalibrationRecord(calibration, {
        ...full,
        remarks: "forged",
      });
      const { integrity: _, ...content } = { ...other, id: record.id };
      const { digestOf } = await import("../../lib/record/digest.ts");
      const forged = {
        ...content,
        integrity: { algorithm: "SHA-256", digest: await digestOf(content) },
      };
      await Deno.writeTextFile(first, JSON.stringify(forged));
      await expect(loadCalibrationRecord(second)).rejects
        .toThrow("fingerprints differ");
      await expect(findLatestCalibrationRecord(folder)).rejects
        .toThrow("fingerprints differ");
      // A revision alone can be read elsewhere, but is no folder's latest.
      await Deno.remove(first);
      expect((await loadCalibrationRecord(second)).revision).toBe(2);
      await expect(findLatestCalibrationRecord(folder)).rejects
        .toThrow("is missing");
    });
  });
  it("are refused under another record's name", async () => {
    await withFolder(async (folder) => {
      const path = await saveCalibrationRecord(record, folder);
      const copy = `${folder}/${crypto.randomUUID()}-r1.json`;
      await Deno.copyFile(path, copy);
      await expect(loadCalibrationRecord(copy)).rejects.toThrow("it holds");
    });
  });
});

describe("a signature", () => {
  it("is made by a key that its owner alone can read, and verified", async () => {
    await withFolder(async (folder) => {
      const key = `${folder}/keys/lab.key`;
      const publicKey = await createSigningKey(key, "Teaching laboratory");
      if (Deno.build.os !== "windows") {
        expect((await Deno.stat(key)).mode! & 0o777).toBe(0o600);
      }
      await expect(createSigningKey(key, "other")).rejects
        .toThrow("never overwritten");
      const path = await saveCalibrationRecord(record, folder);
      const saved = await loadCalibrationRecord(path);
      expect(await loadRecordSignature(path, saved)).toBe(null);
      expect(calibrationCertificate(saved)).toContain("not signed digitally");
      const made = await signCalibrationRecord(path, key);
      expect(made.publicKey).toBe(publicKey);
      const signature = await loadRecordSignature(path, saved);
      expect(signature).toEqual(made);
      const fingerprint = await fingerprintOfKey(publicKey);
      const html = calibrationCertificate(saved, { signature, fingerprint });
      expect(html).toContain(`key ${fingerprint}`);
      // The record itself is as it was, and the folder's latest.
      expect(await findLatestCalibrationRecord(folder)).toEqual(saved);
      await expect(signCalibrationRecord(path, key)).rejects
        .toThrow("never overwritten");
    });
  });
  it("that does not hold is refused", async () => {
    await withFolder(async (folder) => {
      const key = `${folder}/lab.key`;
      await createSigningKey(key, "Teaching laboratory");
      const path = await saveCalibrationRecord(record, folder);
      await signCalibrationRecord(path, key);
      const beside = path.replace(".json", ".sig.json");
      const good = JSON.parse(await Deno.readTextFile(beside));
      const saved = await loadCalibrationRecord(path);
      for (
        const [change, message] of [
          [{ signedBy: "National institute" }, "does not hold"],
          [{ signedAt: "2020-01-01T00:00:00.000Z" }, "does not hold"],
          [{ publicKey: "AAAA" }, "does not hold"],
          [{ signature: "%" }, "does not hold"],
          [{ digest: "0".repeat(64) }, "that of another record"],
          [{ algorithm: "none" }, "is none"],
          [{ signature: undefined }, "is none"],
        ] as const
      ) {
        await Deno.writeTextFile(
          beside,
          JSON.stringify({ ...good, ...change }),
        );
        await expect(loadRecordSignature(path, saved)).rejects.toThrow(message);
      }
    });
  });
  it("is not made with a key that others can read", async () => {
    if (Deno.build.os === "windows") return;
    await withFolder(async (folder) => {
      const key = `${folder}/lab.key`;
      await createSigningKey(key, "Teaching laboratory");
      await Deno.chmod(key, 0o644);
      const path = await saveCalibrationRecord(record, folder);
      await expect(signCalibrationRecord(path, key)).rejects
        .toThrow("others than its owner can read it");
      await expect(signCalibrationRecord(path, `${folder}/no.key`)).rejects
        .toThrow("no such file");
    });
  });
});

describe("a check of a record", () => {
  // ISO 13528:2015, 9.7 (from memory): Eₙ = (x - X) / √(U² + U²), computed by hand
  it("gives the Eₙ of two independent values", () => {
    const check = checkCalibrationRecord(record, {
      measured: quantity(0.2004, 0.0003, "m"),
      reference: quantity(0.2, 0.0004, "m"),
      at: new Date("2027-01-01"),
    });
    // 0.4 mm over 2 × 0.5 mm
    expect(check.normalizedError).toBeCloseTo(0.4, 9);
    expect(check.agrees).toBe(true);
    expect(check.warnings).toEqual([]);
  });
  it("warns where they do not agree, and after the record's date", () => {
    const check = checkCalibrationRecord(record, {
      measured: quantity(0.2012, 0.0003, "m"),
      reference: quantity(0.2, 0.0004, "m"),
      at: new Date("2028-01-01"),
    });
    expect(check.normalizedError).toBeCloseTo(1.2, 9);
    expect(check.warnings.map(({ code }) => code))
      .toEqual(["record-disagrees", "record-expired"]);
  });
  it("compares a tuning measured anew with the recorded one", () => {
    const check = checkCalibrationRecord(record, {
      measured: calibration.tuning,
      at: new Date("2027-01-01"),
    });
    expect(check.normalizedError).toBe(0);
    expect(() =>
      checkCalibrationRecord(record, { measured: quantity(0.2, 0.1, "m") })
    ).toThrow("'m/A' is the reference");
    expect(() =>
      checkCalibrationRecord(record, {
        measured: quantity(0.2, 0, "m"),
        reference: quantity(0.2, 0, "m"),
      })
    ).toThrow("neither value has an uncertainty");
  });
});
