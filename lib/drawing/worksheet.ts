import { screenGrid } from "./scope_screen.ts";
import { drawing } from "./svg.ts";

const style = `
@page { size: A4; margin: 14mm 16mm; }
body { font: 11pt/1.35 Verdana, "DejaVu Sans", Arial, sans-serif; color: #1a1a1a;
  background: #ffffff; max-width: 178mm; margin: 8mm auto; }
section { break-after: page; }
section:last-child { break-after: auto; }
h1 { font-size: 17pt; margin: 0 0 3mm; }
h2 { font-size: 13pt; margin: 6mm 0 2mm; }
p { margin: 1.5mm 0; }
.caution { border: 0.4mm solid #1a1a1a; padding: 2mm 3mm; font-size: 10pt; }
.fields { display: flex; flex-wrap: wrap; gap: 4mm 8mm; margin: 4mm 0; }
.fields span { flex: 1 1 42mm; border-bottom: 0.25mm solid #1a1a1a;
  font-size: 9.5pt; padding-top: 5mm; }
table { border-collapse: collapse; width: 100%; font-size: 9.5pt; }
th, td { border: 0.25mm solid #666666; padding: 1mm 1.5mm; text-align: left; }
td { height: 6.5mm; }
pre { font: 8.5pt/1.4 "DejaVu Sans Mono", monospace; background: #f4f4f4;
  padding: 2mm 3mm; white-space: pre-wrap; margin: 2mm 0; }
svg { display: block; width: 170mm; height: auto; margin: 2mm 0; }`;

const caution =
  `<p class="caution"><strong>Laser safety.</strong> Never look into the beam or at
mirror-like reflections, never through a loupe; a near-infrared beam gives no
warning. Switch the diode off before you change anything in the beam. The label,
your local rules and your laser safety officer decide.</p>`;

const fields = (...names: readonly string[]) =>
  `<div class="fields">${
    names.map((name) => `<span>${name}</span>`).join("")
  }</div>`;

const table = (rows: number, ...heads: readonly string[]) =>
  `<table><thead><tr>${
    heads.map((head) => `<th>${head}</th>`).join("")
  }</tr></thead><tbody>${
    `<tr>${"<td></td>".repeat(heads.length)}</tr>`.repeat(rows)
  }</tbody></table>`;

const code = (text: string) =>
  `<pre>${
    text.replaceAll("&", "&amp;").replaceAll("<", "&lt;").replaceAll(
      ">",
      "&gt;",
    )
  }</pre>`;

/** The empty screen, 10 by 8 divisions of 17 mm. */
function emptyScreen(): string {
  const place = { x: 10, y: 10, division: 68 };
  return drawing(
    {
      width: 700,
      height: 564,
      title: "Empty scope screen",
      description: "10 by 8 divisions, fifths on the middle lines.",
      paper: ["170mm", "137mm"],
    },
    screenGrid(place),
  );
}

/** Squared paper for a line through points, 24 by 14 squares of 7 mm. */
function squaredPaper(): string {
  return drawing(
    {
      width: 700,
      height: 420,
      title: "Squared paper",
      description: "24 by 14 squares.",
      paper: ["170mm", "102mm"],
    },
    screenGrid({ x: 14, y: 14, division: 28, across: 24, down: 14 }, {
      ticks: false,
    }),
  );
}

/**
 * A worksheet for counting on a scope screen: an empty screen to draw on, tables
 * for motion, speed, tuning and distance with their equations and uncertainties,
 * and squared paper for the calibration line.
 *
 * @returns A page of HTML, to be printed on A4 or letter paper.
 */
export function worksheetPage(): string {
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Worksheet: by hand on a scope screen</title>
<style>${style}
</style>
</head>
<body>
<section>
<h1>By hand on a scope screen</h1>
${caution}
${fields("name", "date", "diode, wavelength λ ± u", "target")}
${emptyScreen()}
${
    fields(
      "time per division",
      "CH1 per division",
      "CH2 per division",
      "what was set",
    )
  }
<p>Draw what you see. A place is read to a tenth of a division: that is rectangular,
u = 0.1/√3 = 0.06 divisions. A whole number of fringes between two ends that stand
anywhere has u = 1/√6 = 0.41; from edge to edge it is exact.</p>
</section>
<section>
<h2>Motion: one fringe is half a wavelength</h2>
<p>A = N λ/(4 n), u(A) = 0.41 λ/(4 n); f = 1/(2 (t₂ − t₁)), with t₁ and t₂ at
turning points that follow each other.</p>
${
    table(
      4,
      "what was set",
      "N from turn to turn",
      "t₁ / ms",
      "t₂ / ms",
      "A / µm",
      "u(A) / µm",
      "f / Hz",
    )
  }
${
    code(
      `motionFromScreen({ fringes: N, wavelength: "650nm",
  turningPoints: ["1.3ms", "6.3ms"], cursorStandardUncertainty: "0.06ms" })`,
    )
  }
<h2>Speed: cursors on two edges</h2>
<p>f = N/(t₂ − t₁); v = f λ/(2 n cos θ); the share of the angle is tan θ · u(θ).</p>
${
    table(
      3,
      "what was set",
      "N between",
      "t₁ / µs",
      "t₂ / µs",
      "f / kHz",
      "θ ± u",
      "v / (mm/s)",
      "u(v)",
    )
  }
${
    code(
      `speedFromScreen({ fringes: N, cursors: ["20us", "180us"], ends: "on edges",
  cursorStandardUncertainty: "1.2us", wavelength: "650nm",
  angle: "80deg", angleStandardUncertainty: "1deg" })`,
    )
  }
<h2>Distance: steps on the ramp</h2>
<p>M edges are M − 1 whole steps: N/ΔI = (M − 1)/(I₂ − I₁),
L = L₀ + (N/ΔI)/K with K and L₀ from the line overleaf.</p>
${
    table(
      3,
      "target",
      "edges M",
      "I₁ / mA",
      "I₂ / mA",
      "N/ΔI · mA",
      "L / mm",
      "u(L) / mm",
    )
  }
</section>
<section>
<h2>Tuning: steps per current against known distance</h2>
${
    fields(
      "ramp from … to … mA",
      "ramps per second",
      "u of a current",
      "u of a distance",
    )
  }
${
    table(
      6,
      "distance / mm",
      "edges M",
      "I₁ / mA",
      "I₂ / mA",
      "(M − 1)/(I₂ − I₁) · mA",
    )
  }
${squaredPaper()}
<p>Slope K of the line: dλ/dI = K λ²/(2 n). Where it meets zero: the distance really
starts at L₀.</p>
${
    code(
      `const steps = stepsFromScreen({
  drive: { shape: "triangle", frequency: "10Hz", low: "35mA", high: "45mA" },
  up: { edges: M, first: "36.1mA", last: "44.9mA" },
  currentStandardUncertainty: "0.06mA" });
calibrateTuning([{ steps, distance: 0.06, standardUncertainty: 0.2e-3 }, …],
  { wavelength: "650nm" });   measureDistance(steps, { tuning });`,
    )
  }
</section>
</body>
</html>
`;
}
