/**
 * Every template runs from top to bottom in a session of its own, on captures
 * that are shipped.
 *
 * Run: .ci/outside/shell.sh [part of a name…]
 *
 * @module
 */
import { join } from "@std/path";
import { runNotebook } from "../../lib/notebook/mod.ts";
import { check, demand, fail, finish } from "./tally.ts";

const project = new URL("../../", import.meta.url).pathname;
const templates = join(project, "notebooks", "templates");

/** What lies beside each template: its captures, and texts by name. */
const beside: Record<
  string,
  { captures: readonly string[]; texts: Record<string, string> }
> = {
  "explore.ipynb": { captures: ["capture.csv=distance-a.csv"], texts: {} },
  "new_calibration.ipynb": {
    captures: [
      "tuning-060mm.csv",
      "tuning-120mm.csv",
      "tuning-200mm.csv",
    ],
    texts: {
      "readings.csv": [
        "file,distance (mm),standard uncertainty (mm)",
        "tuning-060mm.csv,60,0.2",
        "tuning-120mm.csv,120,0.2",
        "tuning-200mm.csv,200,0.2",
      ].join("\n"),
    },
  },
  "summary.ipynb": {
    captures: [],
    texts: {
      "results.jsonl": JSON.stringify({
        file: "lost.csv",
        status: "failed",
        measurement: null,
        reason: null,
        reports: [],
        error: { name: "NotFound", message: "no such file" },
      }) + "\n",
    },
  },
};

async function checkTemplate(name: string): Promise<void> {
  const { captures, texts } = beside[name] ?? { captures: [], texts: {} };
  const folder = await Deno.makeTempDir();
  for (const capture of captures) {
    const [to = "", from = to] = capture.split("=");
    await Deno.copyFile(join(project, "datasets", from), join(folder, to));
  }
  for (const [file, text] of Object.entries(texts)) {
    await Deno.writeTextFile(join(folder, file), text);
  }
  const path = join(folder, name);
  await Deno.copyFile(join(templates, name), path);
  const { status, summary } = await runNotebook(path);
  demand(status === "ok", summary);
  await Deno.remove(folder, { recursive: true });
}

const wanted = (name: string) => Deno.args.every((part) => name.includes(part));

try {
  for (const { name } of Deno.readDirSync(templates)) {
    const title = `the template ${name} runs from top to bottom`;
    if (wanted(title)) await check(title, () => checkTemplate(name));
  }
} catch (error) {
  fail(String(error));
}
finish();
