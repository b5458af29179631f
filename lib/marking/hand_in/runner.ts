/**
 * The process that runs one hand-in: reads its notebook, runs the cells in a
 * session, and writes what came of it as one line of JSON. It may fail or be
 * ended at any time; the marker goes on without it.
 *
 * @module
 */
import { dirname, join } from "@std/path";
import { projectFolder } from "../../kernel/session/mod.ts";
import {
  type CellReport,
  createCell,
  joinText,
  type Notebook,
  readNotebook,
  runNotebook,
  writeNotebook,
} from "../../notebook/mod.ts";
import { CpuLimitedInterpreter } from "./cell_cpu_limit.ts";
import { cellHashes } from "./cell_hashes.ts";
import type { HandInLimits } from "./limits.ts";
import { recordedAnswers } from "./recorded_answers.ts";
import type { RunnerResult, RunnerSettings } from "./runner_types.ts";

const showAnswers =
  `const { answersSoFar, display: show } = await import("fringebook");
for (const answer of answersSoFar()) await show(answer);`;

/**
 * Adds a cell that shows all answers behind each that may record one, and at the
 * end: a cell shows its last value only, and an answer may stand anywhere in it.
 *
 * @returns Ids of the added cells.
 */
function addAnswerCells(notebook: Notebook): Set<string> {
  const added = new Set<string>();
  const show = () => {
    const cell = createCell("code", showAnswers, { id: crypto.randomUUID() });
    added.add(cell.id);
    return cell;
  };
  notebook.cells = notebook.cells.flatMap((cell) =>
    cell.cell_type === "code" &&
      /record(?:Answer|Choice)/.test(joinText(cell.source))
      ? [cell, show()]
      : [cell]
  );
  notebook.cells.push(show());
  return added;
}

/** How a cell went wrong, in one short line. */
function wordsOf(report: CellReport, limits: HandInLimits): string {
  const { index, status, error } = report;
  const text = `${error?.ename ?? status}: ${error?.message ?? ""}`;
  const why = /SIGXCPU/.test(text)
    ? `more than ${limits.cpuTime} s of processor time`
    : /SIGXFSZ/.test(text)
    ? `a file of more than ${limits.disk} MB`
    : /It showed more than/.test(text)
    ? `more than ${limits.output} MB of output`
    : (text.split("\n")[0] ?? "").slice(0, 300);
  return `cell ${index + 1}: ${why}`;
}

async function main(settings: RunnerSettings): Promise<RunnerResult> {
  const { path, executedPath, withheld, limits } = settings;
  const notebook = await readNotebook(path);
  // Where a cell stands in the student's own notebook
  const places = new Map(notebook.cells.map(({ id }, index) => [id, index]));
  const cells = cellHashes(notebook);
  const added = addAnswerCells(notebook);
  await writeNotebook(path, notebook);
  const run = await runNotebook(path, {
    outputPath: executedPath,
    allowErrors: true,
    session: {
      memoryLimit: limits.memory,
      outputLimit: limits.output,
      withheld,
      // What the person grants to notebooks is not for hand-ins
      grantFile: join(dirname(executedPath), "no_grants.json"),
      reach: { read: [projectFolder, dirname(path)], write: [dirname(path)] },
      interruptGrace: 15_000,
    },
    createInterpreter: (options) =>
      new CpuLimitedInterpreter(options, limits.cellCpuTime),
  });
  const reports = run.cells.filter(({ id }) => !added.has(id))
    .map((report) => ({ ...report, index: places.get(report.id) ?? 0 }));
  const good = reports.filter(({ status }) => status === "ok");
  const bad = reports.find(({ status }) =>
    status !== "ok" && status !== "not run"
  );
  const ended = run.status === "ok";
  const summary = `${good.length} of ${reports.length} cells ran well`;
  return {
    run: bad === undefined
      ? summary
      : ended
      ? `${summary}; ${wordsOf(bad, limits)}`
      : `could not be run to the end: ${wordsOf(bad, limits)}`,
    complete: good.length === reports.length && ended,
    answers: Object.fromEntries(recordedAnswers(run.notebook)),
    cells,
  };
}

const write = Deno.stdout.write.bind(Deno.stdout);
const settings = JSON.parse(Deno.args[0]!) as RunnerSettings;
// A marker that was killed leaves nothing running
void Deno.stdin.read(new Uint8Array(1)).then(() => Deno.exit(1));
try {
  const result = await main(settings);
  await write(new TextEncoder().encode(JSON.stringify(result)));
} catch (error) {
  const why = error instanceof Error ? error.message : String(error);
  const words = `could not be run: ${why.slice(0, 300)}`;
  await write(new TextEncoder().encode(
    JSON.stringify(
      {
        run: words,
        complete: false,
        answers: {},
        cells: [],
      } satisfies RunnerResult,
    ),
  ));
}
Deno.exit(0);
