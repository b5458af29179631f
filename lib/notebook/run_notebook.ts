import { dirname, resolve } from "@std/path";
import { SessionInterpreter } from "../kernel/session/mod.ts";
import { OutputCollector } from "./collect_outputs.ts";
import { earlierRun, fingerprintOf, inputsOf, noteRun } from "./earlier_run.ts";
import { cellTags, joinText, type NotebookCell } from "./notebook.ts";
import { injectParameters } from "./parameters.ts";
import { readNotebook } from "./read_notebook.ts";
import { runCell } from "./run_cell.ts";
import { runKey, runKeyFile } from "./run_key.ts";
import type { CellReport, NotebookRun, RunOptions } from "./run_types.ts";
import { writeNotebook } from "./write_notebook.ts";

/**
 * Runs all code cells of a notebook from top to bottom in a fresh session and
 * saves the executed notebook, also when a cell fails.
 *
 * @param path The notebook.
 * @param options Where to save, limits, parameters.
 * @returns What became of each cell. A failing cell is a failing run: it does
 * not throw.
 * @throws {SyntaxError} If the file is not a notebook.
 * @throws {RangeError} If a parameter cannot be set.
 * @throws {SaveError} If the executed notebook cannot be saved; the file that
 * was there is untouched.
 *
 * @example
 * ```ts
 * import { createCell, runNotebook, writeNotebook } from "fringebook/notebook";
 * import { expect } from "vitest";
 *
 * const path = `${await Deno.makeTempDir()}/sum.ipynb`;
 * const cells = [createCell("code", "const x = 20;"), createCell("code", "x + 1")];
 * await writeNotebook(path, { nbformat: 4, nbformat_minor: 5, metadata: {}, cells });
 * const run = await runNotebook(path, { timeout: 60 });
 * expect(run.summary).toBe("2 of 2 cells ran well");
 * ```
 */
export async function runNotebook(
  path: string,
  options: RunOptions = {},
): Promise<NotebookRun> {
  const {
    outputPath = path,
    timeout = Infinity,
    parameters = {},
    allowErrors = false,
    resume = false,
    onProgress = () => {},
    onWork = () => {},
    signal = null,
    session = {},
    keyFile = runKeyFile(),
    createInterpreter = (given) => new SessionInterpreter(given),
  } = options;
  if (!(timeout > 0)) {
    throw new RangeError(
      `Cannot run a notebook as 'timeout' must be a positive number of s: current value is ${timeout}`,
    );
  }
  const begin = performance.now();
  const notebook = await readNotebook(path);
  const fingerprint = await fingerprintOf(notebook, parameters);
  const folder = dirname(path);
  const key = await runKey(keyFile);
  if (resume) {
    const inputs = await inputsOf(folder);
    const kept = await earlierRun(outputPath, { fingerprint, inputs }, key);
    if (kept) {
      return {
        path,
        outputPath,
        status: "kept",
        cells: [],
        failed: null,
        duration: 0,
        summary: "kept: it ran well before and has not changed",
        notebook: kept,
      };
    }
  }
  await injectParameters(notebook, parameters);
  const codeCells = notebook.cells
    .map((cell, index) => ({ cell, index }))
    .filter(({ cell }) =>
      cell.cell_type === "code" && joinText(cell.source).trim() !== ""
    );
  for (const cell of notebook.cells) {
    if (cell.cell_type === "code") {
      Object.assign(cell, { outputs: [], execution_count: null });
    }
  }
  const interpreter = createInterpreter({
    notebookFolder: resolve(folder),
    ...session,
    withheld: [
      ...session.withheld ?? [],
      ...(keyFile === null ? [] : [resolve(keyFile)]),
    ],
  });
  const collector = new OutputCollector();
  const reports: CellReport[] = [];
  let failed: number | null = null;
  let lastSave = performance.now();
  onProgress({ path, done: 0, total: codeCells.length, cell: null });
  try {
    await interpreter.start();
    let count = 0;
    for (const { cell, index } of codeCells) {
      const stopped = failed !== null || signal?.aborted === true;
      const report = stopped
        ? emptyReport(index, cell)
        : await runCell(interpreter, collector, cell, {
          index,
          count: ++count,
          timeout,
          signal,
          onWork: (text) =>
            onWork({
              path,
              done: reports.length,
              total: codeCells.length,
              text,
            }),
        });
      reports.push(report);
      const allowed = report.status === "ok" || report.status === "not run" ||
        report.status === "error" &&
          (allowErrors || cellTags(cell).includes("raises-exception"));
      if (!allowed && failed === null) failed = reports.length - 1;
      onProgress({
        path,
        done: reports.length,
        total: codeCells.length,
        cell: report,
      });
      if (performance.now() - lastSave > 5000) {
        await writeNotebook(outputPath, notebook);
        lastSave = performance.now();
      }
    }
  } finally {
    await interpreter.close();
    const good = failed === null && reports.length === codeCells.length &&
      reports.every(({ status }) => status !== "not run");
    const status = good ? "ok" : "failed";
    const inputs = await inputsOf(folder);
    await noteRun(notebook, { status, fingerprint, inputs }, key);
    await writeNotebook(outputPath, notebook);
  }
  const missing = reports.findIndex(({ status }) => status === "not run");
  const first = failed ?? (missing < 0 ? null : missing);
  return {
    path,
    outputPath,
    status: first === null ? "ok" : "failed",
    cells: reports,
    failed: first,
    duration: (performance.now() - begin) / 1000,
    summary: summaryOf(reports, first),
    notebook,
  };
}

function emptyReport(index: number, { id }: NotebookCell): CellReport {
  return { index, id, status: "not run", duration: 0, error: null };
}

function summaryOf(reports: readonly CellReport[], failed: number | null) {
  const good = reports.filter(({ status }) => status === "ok").length;
  const report = failed === null ? undefined : reports[failed];
  if (!report) return `${good} of ${reports.length} cells ran well`;
  const { index, id, status, error } = report;
  const where = `cell ${index + 1} (${id})${
    error?.line ? `, line ${error.line}` : ""
  }`;
  const what = error
    ? `${error.ename}: ${error.message.split("\n")[0]}`
    : "the run was stopped before it";
  return `${status} in ${where}: ${what}`;
}
