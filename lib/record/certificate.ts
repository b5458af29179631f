import { requireFields } from "../options/mod.ts";
import { escape } from "@std/html";
import type { CalibrationRecord, RecordedQuantity } from "./record.ts";
import { traceabilityStatement } from "./traceability.ts";

const mostPoints = 12;

/**
 * A certificate of a calibration record as a self-contained HTML page that
 * prints to one A4 page.
 *
 * @param record The record.
 * @returns The HTML text.
 *
 * @example
 * ```ts
 * import { calibrationCertificate, loadCalibrationRecord } from "fringebook";
 *
 * const print = async (path: string) =>
 *   calibrationCertificate(await loadCalibrationRecord(path));
 * ```
 */
export function calibrationCertificate(record: CalibrationRecord): string {
  requireFields(
    record,
    "record",
    ["values", "conditions", "calibratedAt"],
    "write a record",
  );
  const { values, conditions, validRange } = record;
  const { air } = conditions;
  const range = ({ low, high }: { low: number; high: number }, unit: string) =>
    `${low.toFixed(2)} to ${high.toFixed(2)} ${unit}`;
  const scaled = (r: { low: number; high: number }, factor: number) => ({
    low: factor * r.low,
    high: factor * r.high,
  });
  const rows = (pairs: readonly (readonly [string, string])[]) =>
    pairs.map(([name, text]) =>
      `<tr><th>${escape(name)}</th><td>${escape(text)}</td></tr>`
    ).join("\n");
  const known = (value: number | null, unit: string) =>
    value === null ? "not measured" : `${value} ${unit}`;
  const shown = record.points.slice(0, mostPoints);
  return `<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<title>${escape(`Calibration: ${record.title}`)}</title>
<style>
@page { size: A4; margin: 12mm; }
body { font: 8.5pt/1.2 sans-serif; color: #111; background: #fff; max-width: 186mm; margin: 0 auto; }
h1 { font-size: 15pt; margin: 0 0 1mm; }
h2 { font-size: 10.5pt; margin: 2.2mm 0 0.8mm; border-bottom: 0.3mm solid #888; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; padding: 0.2mm 2mm 0.2mm 0; vertical-align: top; }
table.values th { width: 58mm; font-weight: normal; color: #444; }
table.points td, table.points th { text-align: right; }
p { margin: 1mm 0; overflow-wrap: anywhere; }
td { overflow-wrap: anywhere; }
.small { font-size: 7.5pt; color: #333; }
</style>
</head>
<body>
<h1>Calibration of the tuning of a laser diode</h1>
<p><strong>${escape(clip(record.title, 120))}</strong></p>
<h2>Result (k as stated)</h2>
<table class="values">
${
    rows([
      ["Wavelength by current", show(values.tuning, 1e9, "pm/mA")],
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
</table>
${exactLine(record)}<h2>Valid</h2>
<table class="values">
${
    rows([
      ["Until", record.validUntil.slice(0, 10)],
      ["Current", range(scaled(validRange.current, 1e3), "mA")],
      ["Distance", range(scaled(validRange.distance, 1e3), "mm")],
      [
        "Diode temperature",
        validRange.temperature === null
          ? "not stated"
          : range(validRange.temperature, "°C"),
      ],
      [
        "Ramp frequency",
        `${conditions.modulationFrequency?.toPrecision(4)} Hz`,
      ],
      [
        "Thermal time constant",
        conditions.thermalTimeConstant === undefined
          ? "not recorded"
          : conditions.thermalTimeConstant === 0
          ? "none found"
          : `${(1e3 * conditions.thermalTimeConstant).toPrecision(3)} ms`,
      ],
    ])
  }
</table>
<h2>Conditions and instruments</h2>
<table class="values">
${
    rows([
      ["Diode temperature", known(conditions.temperature, "°C")],
      [
        "Air",
        `${known(air.temperature, "°C")}, ${known(air.pressure, "Pa")}, ${
          known(air.humidity, "% RH")
        }; index ${air.refractiveIndex.toFixed(8)}`,
      ],
      ...record.instruments.slice(0, 6).map((instrument) =>
        [
          clip(instrument.role, 40),
          clip(
            `${instrument.identification}${
              instrument.certificate === null
                ? ", no certificate stated"
                : `, certificate ${instrument.certificate}`
            }`,
            90,
          ),
        ] as const
      ),
    ])
  }
</table>
<h2>Points</h2>
<table class="points">
<tr><th>distance / mm</th><th>u / mm</th><th>steps per ramp</th><th>difference from the line / mm</th><th></th></tr>
${
    shown.map((point) =>
      `<tr><td>${(1e3 * point.distance).toFixed(3)}</td><td>${
        (1e3 * point.distanceStandardUncertainty).toFixed(3)
      }</td><td>${point.steps.toFixed(3)}</td><td>${
        (1e3 * point.residual).toFixed(3)
      }</td><td>${point.outlier ? "flagged" : ""}</td></tr>`
    ).join("\n")
  }
</table>
${
    record.points.length > mostPoints
      ? `<p class="small">${
        record.points.length - mostPoints
      } more points stand in the record.</p>`
      : ""
  }
${
    record.warnings.length > 0
      ? `<h2>Warnings</h2>${
        record.warnings.slice(0, 3).map(({ message }) =>
          `<p>${escape(clip(message, 220))}</p>`
        ).join("\n")
      }`
      : ""
  }
<h2>Traceability</h2>
<p>${escape(clip(traceabilityStatement(record), 700))}</p>
<p class="small">The uncertainty is a standard uncertainty multiplied by the coverage factor k stated with it (JCGM 100:2008).</p>
<h2>Record</h2>
<p>Calibrated ${
    escape(record.calibratedAt.slice(0, 16).replace("T", " "))
  } UTC by ${escape(clip(record.operator, 80))} with ${
    escape(record.software.name)
  } ${escape(record.software.version)}${
    record.notebook === null
      ? ""
      : `, notebook ${escape(clip(record.notebook, 80))}`
  }.</p>
${record.remarks === "" ? "" : `<p>${escape(clip(record.remarks, 300))}</p>`}
<p class="small">Record ${escape(record.id)}, revision ${record.revision}${
    record.replaces === null
      ? ""
      : `, replaces revision ${record.replaces.revision}`
  }. SHA-256 ${escape(record.integrity.digest)}.</p>
</body>
</html>
`;
}

/** "(8.003 ± 0.040) pm/mA, k = 2.00": two digits of the uncertainty. */
function show(
  quantity: RecordedQuantity,
  factor: number,
  unit: string,
): string {
  const value = factor * quantity.value;
  const expanded = Math.abs(factor) * quantity.coverageFactor *
    quantity.standardUncertainty;
  if (!(expanded > 0)) {
    return `${Number(value.toPrecision(9))} ${unit}, taken as exact`;
  }
  const digits = Math.min(
    12,
    Math.max(0, 1 - Math.floor(Math.log10(expanded))),
  );
  return `(${value.toFixed(digits)} ± ${
    expanded.toFixed(digits)
  }) ${unit}, k = ${quantity.coverageFactor.toFixed(2)}`;
}

function clip(text: string, most: number): string {
  return text.length <= most ? text : `${text.slice(0, most - 1)}…`;
}

/** What nobody stated an uncertainty of: the result rests on it all the same. */
function exactLine({ values, common }: CalibrationRecord): string {
  const exact = [
    ...(values.wavelength.standardUncertainty > 0 ? [] : ["wavelength"]),
    ...(common.currentScale > 0 ? [] : ["scale of the ammeter"]),
    ...(common.distanceScale > 0 ? [] : ["scale of the distances"]),
    "refractive index",
  ];
  return `<p class="small">Taken as exact: ${exact.join(", ")}.</p>\n`;
}
