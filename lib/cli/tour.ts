/**
 * `deno task tour`: runs every notebook on the sample captures, writes each as
 * an executed notebook and as a page into `out/`, and prints the results beside
 * the truth of the simulated bench.
 *
 * Exit codes: 0 all notebooks ran and all results agree with the truth, 1 not, 2
 * wrong arguments.
 *
 * @module
 */
import { basename, fromFileUrl, join, relative } from "@std/path";
import { createDrawingDesk, type DrawingDesk } from "../kernel/session/mod.ts";
import { renderPage, runNotebook, writeWhole } from "../notebook/mod.ts";
import { nearestName } from "../options/mod.ts";
import { readFlags, runTask, type Task, UsageError } from "./task/mod.ts";
import { type ComparedResult, comparedResults } from "./tour/compared.ts";
import { pageLink, writeGuidePages } from "./tour/guide_pages.ts";
import { indexPage } from "./tour/index_page.ts";
import { createStatusLine, followRun } from "./status_line.ts";
import { resultTable, type TourRow } from "./tour/table.ts";

const root = fromFileUrl(new URL("../../", import.meta.url));

/** What became of one notebook of the tour. */
interface TourStop {
  readonly name: string;
  readonly results: readonly ComparedResult[];
  /** Why it failed; `null` where it ran well. */
  readonly failure: string | null;
  /** Time taken, in s. */
  readonly duration: number;
}

async function visit(
  name: string,
  drawing: DrawingDesk,
  tell: (text: string) => void,
): Promise<TourStop> {
  const file = `${name}.ipynb`;
  const run = await runNotebook(join(root, "notebooks", file), {
    outputPath: join(root, "out", file),
    timeout: 300,
    session: { drawing },
    ...followRun(tell, name),
  });
  const page = await renderPage(run.notebook, {
    path: run.outputPath,
    link: pageLink,
  });
  await writeWhole(join(root, "out", `${name}.html`), page);
  return {
    name,
    results: comparedResults(run.notebook),
    failure: run.status === "failed" ? run.summary : null,
    duration: run.duration,
  };
}

function rowsOf({ name, results, failure, duration }: TourStop): TourRow[] {
  const time = `${duration.toFixed(1)} s`;
  const first = results.map(({ label, measured, truth, agrees }) => ({
    notebook: name,
    result: label,
    measured,
    truth,
    verdict: agrees ? "pass" : "FAIL",
    time,
  }));
  if (failure !== null) {
    first.push({
      notebook: name,
      result: failure,
      measured: "",
      truth: "",
      verdict: "FAIL",
      time,
    });
  } else if (first.length === 0) {
    first.push({
      notebook: name,
      result: "ran",
      measured: "",
      truth: "",
      verdict: "pass",
      time,
    });
  }
  return first.map((row, i) =>
    i === 0 ? row : { ...row, notebook: "", time: "" }
  );
}

/** Notebooks of the tour by name, those that were asked for. */
function chosenNames(given: readonly string[]): string[] {
  const { rest } = readFlags({}, given, { task: "make the tour" });
  const all = [...Deno.readDirSync(join(root, "notebooks"))]
    .filter(({ name }) => name.endsWith(".ipynb"))
    .map(({ name }) => basename(name, ".ipynb"))
    .sort();
  const parts = rest.map((part) => basename(part, ".ipynb"));
  for (const part of parts) {
    if (all.some((name) => name.includes(part))) continue;
    const near = nearestName(part, all);
    throw new UsageError(
      `Cannot make the tour as no notebook has '${part}' in its name. ${
        near === null
          ? `There are ${all.join(", ")}`
          : `Did you mean '${near}'?`
      }`,
    );
  }
  return parts.length === 0
    ? all
    : all.filter((name) => parts.some((part) => name.includes(part)));
}

/** Runs the notebooks, two at a time, and tells of each. */
async function visitAll(names: readonly string[]): Promise<TourStop[]> {
  const status = createStatusLine();
  const stops: TourStop[] = [];
  const queue = [...names];
  const drawing = createDrawingDesk();
  drawing.warm();
  const jobs = Math.min(2, navigator.hardwareConcurrency);
  await Promise.all(Array.from({ length: jobs }, async (_, lane) => {
    for (let name = queue.shift(); name; name = queue.shift()) {
      const stop = await visit(
        name,
        drawing,
        (text) => status.tell(lane, text),
      );
      stops.push(stop);
      status.line(
        `${stop.failure === null ? "ran" : "failed"} ${name} in ${
          stop.duration.toFixed(1)
        } s (${stops.length} of ${names.length})`,
      );
    }
  })).finally(() => drawing.close());
  status.end();
  return stops.sort((a, b) => a.name < b.name ? -1 : 1);
}

async function tour(given: readonly string[]): Promise<number> {
  const names = chosenNames(given);
  await Deno.mkdir(join(root, "out"), { recursive: true });
  const rows = (await visitAll(names)).flatMap(rowsOf);
  await writeGuidePages(
    join(root, "notebooks", "guide"),
    join(root, "out", "guide"),
  );
  await writeWhole(join(root, "out", "index.html"), indexPage(rows));
  console.log(`\n${resultTable(rows)}\n`);
  console.log(
    `Pages and executed notebooks: ${relative(Deno.cwd(), join(root, "out"))}/`,
  );
  console.log(
    "U is the expanded uncertainty k u, about 95 %. All captures are simulated.",
  );
  return rows.some(({ verdict }) => verdict === "FAIL") ? 1 : 0;
}

/** The task. */
export const task: Task = {
  name: "tour",
  help: `deno task tour [NAME …]

Runs the tutorial notebooks on the sample captures, writes each as an executed
notebook and as a page into 'out/', and prints the results beside the truth of
the simulated bench. NAME is a part of a notebook's name, such as 07 or tuning;
without one, all notebooks are run.

Exit codes: 0 all ran and agree with the truth, 1 not, 2 wrong arguments.`,
  run: tour,
};

if (import.meta.main) await runTask(task);
