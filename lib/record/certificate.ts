import {
  handedOption,
  type Option,
  optional,
  optionOf,
  readOptions,
  requireFields,
} from "../options/mod.ts";
import { escape } from "@std/html";
import { certificateChart } from "./certificate_chart.ts";
import { certificateStyle } from "./certificate_style.ts";
import type { CalibrationRecord, RecordedQuantity } from "./record.ts";
import type { RecordSignature } from "./signature.ts";
import { traceabilityStatement } from "./traceability.ts";
import { unstatedOf } from "./unstated.ts";

/** Options of {@linkcode calibrationCertificate}. */
export interface CertificateOptions {
  /**
   * The record's signature, of {@linkcode loadRecordSignature}; the certificate
   * says which key signed, or that nobody did.
   *
   * @default {null}
   */
  signature?: RecordSignature | null;
  /**
   * Fingerprint of the signature's key, of {@linkcode fingerprintOfKey}.
   *
   * @default {null}
   */
  fingerprint?: string | null;
}

/** What these records are of, where the title does not say it. */
const recorded = "Tuning of a laser diode";

export const certificateSpec = {
  signature: optional(
    handedOption<RecordSignature>(
      "The record's signature, of `loadRecordSignature`.",
      "a signature of loadRecordSignature(…)",
      (value) => typeof value === "object" && value !== null,
    ),
    null,
  ),
  fingerprint: optional(
    optionOf.text("Fingerprint of the signature's key, of `keyFingerprint`."),
    null,
  ),
} satisfies Record<keyof CertificateOptions, Option>;

/** What the certificate says of something that nobody stated. */
const missing = "not stated";

type Row = readonly [name: string, text: string | null];

/**
 * A certificate of a calibration record as a self-contained HTML page that
 * prints to numbered A4 pages: item, laboratory, method, conditions, result with
 * uncertainty budget, coverage factor and probability, traceability, points with
 * the line, captures with their hashes, deviations, warnings, and lines to sign.
 * What nobody stated is listed.
 *
 * @param record The record.
 * @param options Its signature.
 * @returns The HTML text.
 *
 * Source: what ISO/IEC 17025:2017, 7.8.2 and 7.8.4, asks of a calibration
 * certificate (from memory).
 *
 * @example
 * ```ts
 * import { calibrationCertificate, loadCalibrationRecord } from "fringebook";
 *
 * const print = async (path: string) =>
 *   calibrationCertificate(await loadCalibrationRecord(path));
 * ```
 */
export function calibrationCertificate(
  record: CalibrationRecord,
  options: CertificateOptions = {},
): string {
  const task = "make a certificate";
  requireFields(
    record,
    "record",
    ["values", "conditions", "calibratedAt"],
    task,
  );
  readOptions(certificateSpec, options, task);
  const unstated = unstatedOf(record);
  const table = (rows: readonly Row[]) =>
    `<table class="values">\n${
      rows.map(([name, text]) =>
        `<tr><th>${escape(name)}</th><td>${
          escape(text ?? missing).replaceAll("ν eff", "ν<sub>eff</sub>")
        }</td></tr>`
      ).join("\n")
    }\n</table>`;
  const sections: readonly (readonly [string, string])[] = [
    ["Item and client", table(itemRows(record))],
    ["Method and conditions", table(conditionRows(record))],
    ["Result", resultHtml(record, table)],
    [
      "Uncertainty budget of the wavelength by current",
      budgetHtml(record),
    ],
    ["Points and line", pointsHtml(record)],
    ["Instruments and traceability", traceabilityHtml(record)],
    ["Captures", capturesHtml(record)],
    ["Deviations and warnings", notesHtml(record)],
    ["Record and signature", signatureHtml(record, options, table)],
  ];
  const parts = sections.map(([title, html]) =>
    `<section><h2>${escape(title)}</h2>\n${html}</section>`
  );
  const last = parts.pop()!.replace("<section>", '<section class="whole">');
  const body = [
    ...parts,
    unstated.length === 0
      ? ""
      : `<p class="unstated">Not stated: ${escape(unstated.join(", "))}.</p>`,
    last,
  ].join("\n");
  return `<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>${escape(`Calibration certificate: ${record.title}`)}</title>
<style>
${certificateStyle(`${record.id}, revision ${record.revision}`)}
</style>
</head>
<body>
<h1>Calibration certificate</h1>
<p class="title"><strong>${escape(record.title)}</strong></p>
<p class="small">${
    record.title === recorded ? "" : `${recorded}. `
  }Certificate ${
    escape(record.id)
  }, revision ${record.revision}. The results hold for this item alone, as it was calibrated. Copy it whole only.</p>
${body}
</body>
</html>
`;
}

function itemRows(record: CalibrationRecord): Row[] {
  const given = record.circumstances;
  return [
    ["Item", given?.item ?? null],
    ["Laboratory", given?.laboratory ?? null],
    ["Place of calibration", given?.place ?? null],
    ["Customer or course", given?.customer ?? null],
    ["Calibrated", dateTime(record.calibratedAt)],
    [
      "In use until",
      `${record.validUntil.slice(0, 10)}, as the laboratory set`,
    ],
    ...(record.revision > 1
      ? [
        [
          "Replaces",
          `revision ${record.revision - 1}: ${
            record.reason ?? "reason not recorded"
          }`,
        ] as const,
      ]
      : []),
  ];
}

function conditionRows(record: CalibrationRecord): Row[] {
  const { conditions, validRange } = record;
  const { air, temperature, thermalTimeConstant } = conditions;
  const measured = [
    air.temperature === null ? null : `${air.temperature} °C`,
    air.pressure === null ? null : `${air.pressure / 100} hPa`,
    air.humidity === null ? null : `${air.humidity} % relative humidity`,
  ].filter((text) => text !== null);
  const range = validRange.temperature;
  const holds = range === null
    ? ""
    : `result holds from ${range.low} °C to ${range.high} °C`;
  return [
    ["Method", record.circumstances?.method ?? null],
    [
      "Temperature of the diode",
      temperature === null
        ? holds === "" ? null : `not measured; ${holds}`
        : `${temperature} °C${holds === "" ? "" : `; ${holds}`}`,
    ],
    ["Air", measured.length === 0 ? null : measured.join(", ")],
    ["Refractive index used", air.refractiveIndex.toFixed(8)],
    [
      "Drive current",
      `ramps from ${(1e3 * validRange.current.low).toFixed(2)} mA to ${
        (1e3 * validRange.current.high).toFixed(2)
      } mA, ${(conditions.modulationFrequency ?? NaN).toPrecision(4)} Hz`,
    ],
    [
      "Distances",
      `${(1e3 * validRange.distance.low).toFixed(2)} mm to ${
        (1e3 * validRange.distance.high).toFixed(2)
      } mm`,
    ],
    [
      "Thermal time constant",
      thermalTimeConstant === undefined
        ? null
        : thermalTimeConstant === 0
        ? "none found"
        : `${(1e3 * thermalTimeConstant).toPrecision(3)} ms`,
    ],
  ];
}

function resultHtml(
  record: CalibrationRecord,
  table: (rows: readonly Row[]) => string,
): string {
  const { values } = record;
  return `${
    table([
      ["Wavelength by current", show(values.tuning, 1e6, "nm/mA")],
      [
        "Optical frequency by current",
        show(values.frequencyTuning, 1e-12, "GHz/mA"),
      ],
      [
        "Steps by current and distance",
        show(values.stepsPerCurrentAndDistance, 1e-3, "1/(mA m)"),
      ],
      ["The distance starts at", show(values.zeroOffset, 1e3, "mm")],
      ["Vacuum wavelength", show(values.wavelength, 1e9, "nm")],
    ])
  }
<p class="small">Stated is the expanded uncertainty U = k u: the standard uncertainty u times the coverage factor k, which with the effective degrees of freedom ν<sub>eff</sub> (Welch–Satterthwaite, JCGM 100:2008, G.4) gives a coverage probability of about 95 %.${
    exactText(record)
  }</p>`;
}

/** What went into the result without an uncertainty. */
function exactText({ budget = [] }: CalibrationRecord): string {
  const exact = budget.filter((line) => !(line.relativeStandardUncertainty > 0))
    .map(({ source }) => source);
  // Its part is some 1e-6 of the value: no line of the budget.
  const all = [...exact, "refractive index of the air"];
  return ` Taken as exact, as no uncertainty of it was stated: ${
    escape(all.join(", "))
  }.`;
}

function budgetHtml(record: CalibrationRecord): string {
  const { tuning } = record.values;
  if (record.budget === undefined) {
    return `<p>This record is from before budgets were kept.</p>`;
  }
  const percent = (part: number) => `${(100 * part).toPrecision(2)} %`;
  const digits = digitsOf(1e6 * tuning.standardUncertainty) + 1;
  const inUnit = (value: number) => (1e6 * value).toFixed(digits);
  const relative = tuning.standardUncertainty / Math.abs(tuning.value);
  const rows = record.budget.map((line) => {
    if (line.relativeStandardUncertainty > 0) {
      return `<tr><th>${escape(line.source)}</th><td>${
        percent(line.relativeStandardUncertainty)
      }</td><td>${line.evaluation}</td><td>${
        signed(String(line.sensitivity))
      }</td><td>${inUnit(line.contribution)}</td><td>${
        line.degreesOfFreedom === null ? "∞" : Math.floor(line.degreesOfFreedom)
      }</td></tr>`;
    }
    return `<tr><th>${
      escape(line.source)
    }</th><td>${missing}</td><td></td><td></td><td></td><td></td></tr>`;
  });
  return `<table class="points">
<tr><th>source</th><th>relative u</th><th>type</th><th>sensitivity</th><th>contribution (nm/mA)</th><th>ν</th></tr>
${rows.join("\n")}
<tr class="sum"><th>combined standard uncertainty</th><td>${
    percent(relative)
  }</td><td></td><td></td><td>${inUnit(tuning.standardUncertainty)}</td><td>${
    freedom(tuning)
  }</td></tr>
<tr><th>expanded uncertainty, k = ${
    tuning.coverageFactor.toFixed(2)
  }, about 95 %</th><td>${
    percent(tuning.coverageFactor * relative)
  }</td><td></td><td></td><td>${
    inUnit(tuning.coverageFactor * tuning.standardUncertainty)
  }</td><td></td></tr>
</table>`;
}

function pointsHtml(record: CalibrationRecord): string {
  return `${certificateChart(record)}
<table class="points">
<thead><tr><th>distance (mm)</th><th>u (mm)</th><th>steps per ramp</th><th>difference from the line (mm)</th><th></th></tr></thead>
${
    record.points.map((point) =>
      `<tr><td>${(1e3 * point.distance).toFixed(3)}</td><td>${
        (1e3 * point.distanceStandardUncertainty).toFixed(3)
      }</td><td>${point.steps.toFixed(3)}</td><td>${
        signed((1e3 * point.residual).toFixed(3))
      }</td><td>${point.outlier ? "flagged" : ""}</td></tr>`
    ).join("\n")
  }
</table>`;
}

function traceabilityHtml(record: CalibrationRecord): string {
  const rows = record.instruments.map((instrument) =>
    `<tr><th>${escape(instrument.role)}</th><td>${
      escape(
        `${instrument.identification}; ${
          instrument.certificate === null
            ? "no certificate stated"
            : `certificate ${instrument.certificate}${
              instrument.certificateValidUntil === null
                ? ""
                : `, valid until ${
                  instrument.certificateValidUntil.slice(0, 10)
                }`
            }`
        }`,
      )
    }</td></tr>`
  );
  return `${
    rows.length === 0
      ? `<p>Instruments: ${missing}.</p>`
      : `<table class="values">${rows.join("\n")}</table>`
  }
<p>${escape(traceabilityStatement(record))}</p>`;
}

function capturesHtml(record: CalibrationRecord): string {
  if (record.captures.length === 0) {
    return "<p>No capture: the steps were counted by hand.</p>";
  }
  return `<table class="captures">
<thead><tr><th>file</th><th>SHA-256</th></tr></thead>
${
    record.captures.map(({ fileName, sha256 }) =>
      `<tr><td>${escape(fileName ?? "made in memory")}</td><td>${
        escape(sha256 ?? "none")
      }</td></tr>`
    ).join("\n")
  }
</table>`;
}

function notesHtml(record: CalibrationRecord): string {
  const list = (items: readonly string[], none: string) =>
    items.length === 0
      ? `<p>${none}</p>`
      : `<ul>${items.map((item) => `<li>${escape(item)}</li>`).join("")}</ul>`;
  return `${
    list(record.deviations ?? [], "No deviation from the method is stated.")
  }${
    list(
      record.warnings.map(({ message }) => message),
      "The computation gave no warning.",
    )
  }${record.remarks === "" ? "" : `<p>Remarks: ${escape(record.remarks)}</p>`}`;
}

function signatureHtml(
  record: CalibrationRecord,
  { signature = null, fingerprint = null }: CertificateOptions,
  table: (rows: readonly Row[]) => string,
): string {
  const approved = record.circumstances?.approvedBy ?? null;
  return `${
    table([
      ["Calibrated by", record.operator],
      ...(approved === null ? [] : [["Approved by", approved] as const]),
      [
        "Computed with",
        `${record.software.name} ${record.software.version}${
          record.notebook === null ? "" : `, notebook ${record.notebook}`
        }`,
      ],
      ["SHA-256 of the record", record.integrity.digest],
      [
        "Digital signature",
        signature === null
          ? "this record is not signed digitally"
          : `signed by '${signature.signedBy}' on ${
            dateTime(signature.signedAt)
          } (Ed25519${
            fingerprint === null ? "" : `, key ${fingerprint}`
          }); compare the key with the one that the laboratory tells`,
      ],
    ])
  }
<table class="sign"><tr><td>Date</td><td>Calibrated by (signature)</td><td>Approved by (signature)</td></tr></table>`;
}

/** "(0.008003 ± 0.000040) nm/mA, k = 2.00, ν_eff = 12": two digits of U. */
function show(
  quantity: RecordedQuantity,
  factor: number,
  unit: string,
): string {
  const value = factor * quantity.value;
  const expanded = Math.abs(factor) * quantity.coverageFactor *
    quantity.standardUncertainty;
  if (!(expanded > 0)) {
    return `${signed(value.toPrecision(7))} ${unit}, uncertainty ${missing}`;
  }
  const digits = digitsOf(expanded);
  return `(${signed(value.toFixed(digits))} ± ${
    expanded.toFixed(digits)
  }) ${unit}; k = ${quantity.coverageFactor.toFixed(2)}, ν eff = ${
    freedom(quantity)
  }`;
}

/** Decimals that show two digits of an uncertainty. */
function digitsOf(uncertainty: number): number {
  return uncertainty > 0
    ? Math.min(12, Math.max(0, 1 - Math.floor(Math.log10(uncertainty))))
    : 0;
}

/** A number with a minus sign in place of the hyphen. */
function signed(text: string): string {
  return text.replace(/^-/, "−");
}

/** Rounded down, as JCGM 100:2008, G.4.1, says. */
function freedom({ degreesOfFreedom }: RecordedQuantity): string {
  return degreesOfFreedom === null || degreesOfFreedom > 1000
    ? "∞"
    : String(Math.floor(degreesOfFreedom + 1e-9));
}

function dateTime(text: string): string {
  return `${text.slice(0, 16).replace("T", " ")} UTC`;
}
