/**
 * `deno task report NOTEBOOK`: runs a notebook and makes one PDF of it, with
 * text, questions, results with U and figures.
 *
 * Exit codes: 0 the report is there, 1 a cell failed or there is no browser to
 * print with, 2 wrong arguments.
 *
 * @module
 */
import { basename, join } from "@std/path";
import { writeWhole } from "../files/mod.ts";
import { renderPage, runNotebook } from "../notebook/mod.ts";
import { printPage } from "./note/print_page.ts";
import { createStatusLine, followRun } from "./status_line.ts";
import {
  flagHelp,
  loneFlag,
  readFlags,
  runTask,
  type Task,
  textFlag,
  UsageError,
} from "./task/mod.ts";

const flags = {
  "output": textFlag(
    "Where the report goes.",
    "FILE.pdf",
    "beside the notebook",
  ),
  "with-code": loneFlag("Print the code of the cells too."),
  "browser": textFlag(
    "The program of a Chromium browser, to print with.",
    "PROGRAM",
    "the first that is found",
  ),
} as const;

/** The task. */
export const task: Task = {
  name: "report",
  help: `deno task report NOTEBOOK [options]

Runs a notebook from top to bottom in a fresh session and makes one PDF of it:
text, questions, results with their uncertainty, figures. The notebook itself is
not changed. Where no browser is found that prints, a page is written instead.

${flagHelp(flags)}

Exit codes: 0 the report is there, 1 a cell failed or there is no browser to
print with, 2 wrong arguments.`,
  run: report,
};

async function report(typed: readonly string[]): Promise<number> {
  const what = "make a report";
  const { values, rest } = readFlags(flags, typed, { task: what });
  const [notebook] = rest;
  if (notebook === undefined || rest.length > 1) {
    throw new UsageError(
      `Cannot ${what} as one notebook is taken, and ${rest.length} were given`,
    );
  }
  const stem = notebook.replace(/\.ipynb$/, "");
  const output = values.output ?? `${stem}.pdf`;
  if (!/\.pdf$/i.test(output)) {
    throw new UsageError(
      `Cannot ${what} into '${output}': its name must end in .pdf`,
    );
  }
  const work = await Deno.makeTempDir({ prefix: "fringebook-report-" });
  const status = createStatusLine();
  try {
    const run = await runNotebook(notebook, {
      outputPath: join(work, basename(notebook)),
      allowErrors: true,
      ...followRun((text) => status.tell(0, text)),
    }).finally(() => status.end());
    const page = await renderPage(run.notebook, {
      path: notebook,
      interactive: false,
      code: values["with-code"] === true,
    });
    console.log(run.summary);
    const printed = await printPage(page, output, values.browser);
    if (printed) console.log(`Report: ${output}`);
    else {
      const instead = output.replace(/\.pdf$/i, ".html");
      await writeWhole(instead, page);
      console.error(
        `No browser was found that prints: open '${instead}' in yours and print it to a PDF, or name one with --browser`,
      );
    }
    const good = run.cells.every(({ status }) => status === "ok");
    return printed && good ? 0 : 1;
  } finally {
    await Deno.remove(work, { recursive: true }).catch(() => {});
  }
}

if (import.meta.main) await runTask(task);
