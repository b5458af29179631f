import { colours, escapeHtml } from "fringebook/display";
import { describe } from "./compare.ts";
import type { Picture } from "./picture.ts";
import { outcomes, type Verdict, type ZooRecord } from "./record.ts";
import type { Table } from "./cell_table.ts";

/** What stands on the page. */
export interface ZooPage {
  readonly kind: "work" | "kept";
  readonly records: readonly ZooRecord[];
  readonly tables: readonly Table[];
}

/** Writes a page that needs nothing else: tables, and pictures of the worst. */
export async function writePage(path: string, page: ZooPage): Promise<void> {
  await Deno.writeTextFile(path, pageOf(page));
}

const style = `body{font:15px/1.5 system-ui,sans-serif;margin:2rem auto;
max-width:78rem;padding:0 1rem;color:#1d232b;background:#fff}
table{border-collapse:collapse;font-variant-numeric:tabular-nums;font-size:13px}
th,td{padding:.15rem .6rem;text-align:right;border-bottom:1px solid #dde2e8}
th{vertical-align:bottom}th:first-child,td:first-child{text-align:left;white-space:nowrap}.wide{overflow-x:auto}
dl{display:grid;grid-template-columns:max-content 1fr;gap:.1rem 1rem}
dt{font-weight:600}dd{margin:0}figure{margin:2rem 0}svg{display:block;max-width:100%;height:auto}
text{font:12px system-ui,sans-serif;fill:#4a5360}`;

/** The page as HTML. */
export function pageOf({ kind, records, tables }: ZooPage): string {
  const worst = worstOf(records, 20);
  return `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>The zoo of benches</title>
<style>${style}</style></head><body>
<h1>The zoo of benches</h1>
<p>${records.length} simulated benches, seeds for ${
    kind === "kept" ? "the count" : "work"
  }. An error is in fringes, of a speed in parts of 1 %.</p>
<dl>
<dt>right</dt><dd>within a tenth of a fringe, a speed within 1 %; without light: refused or doubted</dd>
<dt>within U</dt><dd>further off, and covered by what is stated</dd>
<dt>warned</dt><dd>wrong, and marked doubtful</dd>
<dt>refused</dt><dd>no result, or a value in less than 80 % of the record</dd>
<dt>too slow</dt><dd>stopped at 20 s of CPU and 40 s per million samples more</dd>
<dt>confident</dt><dd>wrong by more than is stated, without a word</dd>
<dt>over bound</dt><dd>error over the Cramér–Rao bound, median of right results</dd>
<dt>CPU s/M</dt><dd>CPU time per million samples, median (largest)</dd>
</dl>
${tables.map(tableHtml).join("\n")}
<h2>The worst ${worst.length}</h2>
${worst.map(figureHtml).join("\n")}
</body></html>
`;
}

/** The worst first: by outcome, then by error. */
export function worstOf(records: readonly ZooRecord[], count: number) {
  return records.filter(({ ours }) => ours.outcome !== "right").toSorted((
    a,
    b,
  ) =>
    outcomes.indexOf(b.ours.outcome) - outcomes.indexOf(a.ours.outcome) ||
    (b.ours.error ?? 0) - (a.ours.error ?? 0)
  ).slice(0, count);
}

function tableHtml({ title, heads, rows }: Table): string {
  const cells = (row: readonly string[], tag: string) =>
    `<tr>${row.map((c) => `<${tag}>${escapeHtml(c)}</${tag}>`).join("")}</tr>`;
  return `<h2>${escapeHtml(title)}</h2><div class="wide"><table>
<thead>${cells(heads, "th")}</thead>
<tbody>${rows.map((row) => cells(row, "td")).join("\n")}</tbody></table></div>`;
}

function figureHtml(record: ZooRecord): string {
  const { picture, draw } = record;
  const unit = record.family === "speed" ? "%" : "fringes";
  const said = (name: string, v: Verdict | null) =>
    v === null
      ? ""
      : `${name}: ${v.outcome}${
        v.error === null ? "" : `, ${v.error.toPrecision(3)} ${unit} off`
      }${v.warnings.length > 0 ? ` (${v.warnings.join(", ")})` : ""}${
        v.reason === null ? "" : `: ${v.reason}`
      }. `;
  return `<figure><figcaption><strong>${
    escapeHtml(describe(record))
  }</strong>, ${draw.samples} samples, ${
    draw.samplesPerFringe?.toPrecision(2)
  } in the fastest fringe, pole at ${
    draw.poleOverFringe?.toFixed(0)
  } times its rate, coupling corner ${
    draw.corner === null ? "none" : `${draw.corner?.toPrecision(3)} Hz`
  }, ${draw.hum ? `hum ${draw.hum.toFixed(2)} of a fringe` : "no hum"}${
    draw.speckle === null || draw.speckle === undefined ? "" : ", speckle"
  }. ${
    escapeHtml(said("Library", record.ours) + said("SciPy", record.scipy))
  }</figcaption>${picture === null ? "" : pictureSvg(picture)}</figure>`;
}

const width = 1100;

/** Courses above, some fringes of the signal below. */
function pictureSvg({ courses, step, signal, signalStep }: Picture): string {
  const panels = [
    ...courses.length === 0 ? [] : [
      panel(0, 220, courses, step, "displacement / fringes"),
    ],
    panel(
      courses.length === 0 ? 0 : 250,
      140,
      [{ name: "signal", values: signal }],
      signalStep,
      courses.length === 0
        ? "signal / V"
        : "signal / V, from the middle of the record",
    ),
  ];
  const height = courses.length === 0 ? 175 : 425;
  return `<svg viewBox="0 0 ${width} ${height}" role="img">${
    panels.join("")
  }</svg>`;
}

const lines: Readonly<Record<string, { colour: string; dash: string }>> = {
  truth: { colour: "#9aa3ad", dash: "" },
  library: { colour: colours.blue, dash: "" },
  SciPy: { colour: colours.vermilion, dash: "5 4" },
  signal: { colour: colours.blue, dash: "" },
};

function panel(
  top: number,
  height: number,
  courses: Picture["courses"],
  step: number,
  title: string,
): string {
  const all = courses.flatMap(({ values }) => values).filter(Number.isFinite);
  const low = all.reduce((a, b) => Math.min(a, b), Infinity);
  const high = all.reduce((a, b) => Math.max(a, b), -Infinity);
  const [left, right] = [70, width - 110];
  const count = courses[0]!.values.length;
  const x = (k: number) => left + (right - left) * k / Math.max(1, count - 1);
  const y = (v: number) =>
    top + 15 + (height - 20) * (1 - (v - low) / (high - low || 1));
  const paths = courses.map(({ name, values }) => {
    let pen = false;
    const d = values.map((v, k) => {
      const drawn = Number.isFinite(v);
      const part = drawn
        ? `${pen ? "L" : "M"}${x(k).toFixed(1)} ${y(v).toFixed(1)}`
        : "";
      pen = drawn;
      return part;
    }).join("");
    const { colour, dash } = lines[name]!;
    return `<path d="${d}" fill="none" stroke="${colour}" stroke-width="${
      name === "truth" ? 4 : 1.3
    }" stroke-dasharray="${dash}"/>`;
  });
  const legend = courses.length < 2
    ? []
    : courses.map(({ name }, k) =>
      `<text x="${right + 12}" y="${top + 30 + 18 * k}" style="fill:${
        lines[name]!.colour
      }">${name}</text>`
    );
  const label = (value: number) => value.toPrecision(4);
  return `<g><rect x="${left}" y="${top + 15}" width="${
    right - left
  }" height="${height - 20}" fill="none" stroke="#dde2e8"/>
<text x="${left}" y="${top + 10}">${title}</text>
<text x="${left - 6}" y="${top + 24}" text-anchor="end">${label(high)}</text>
<text x="${left - 6}" y="${top + height - 6}" text-anchor="end">${
    label(low)
  }</text>
<text x="${right}" y="${top + height + 10}" text-anchor="end">${
    (count * step).toPrecision(3)
  }</text>
<text x="${left}" y="${top + height + 10}">0</text>
<text x="${(left + right) / 2}" y="${
    top + height + 10
  }" text-anchor="middle">time / s</text>
${paths.join("")}${legend.join("")}</g>`;
}
