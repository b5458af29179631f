/**
 * `deno task api`: the reference of all that the doors export, with search, into
 * `out/api/`, and `out/api/tasks.html`: all of it by task on one page.
 *
 * Exit codes: 0 written, 1 not, 2 wrong arguments.
 *
 * @module
 */
import { fromFileUrl, join } from "@std/path";
import config from "../../deno.json" with { type: "json" };
import { writeWhole } from "../notebook/mod.ts";
import { type DocSymbol, taskPage, tasksOf } from "./api/task_page.ts";
import { readFlags, runTask, type Task, UsageError } from "./task/mod.ts";

const root = fromFileUrl(new URL("../../", import.meta.url));
const folder = join(root, "out", "api");

async function doc(...args: string[]): Promise<string> {
  const { code, stdout, stderr } = await new Deno.Command(Deno.execPath(), {
    args: ["doc", ...args],
    cwd: root,
    env: { NO_COLOR: "1" },
  }).output();
  const decoder = new TextDecoder();
  if (code !== 0) throw new Error(decoder.decode(stderr));
  return decoder.decode(stdout);
}

async function api(given: readonly string[]): Promise<number> {
  const { rest } = readFlags({}, given, { task: "write the reference" });
  if (rest.length > 0) {
    throw new UsageError(
      `Cannot write the reference with '${rest[0]}': nothing is taken`,
    );
  }
  const doors = Object.entries(config.exports);
  const paths = doors.map(([, path]) => path);
  // The documentation tool makes one folder, and not the one around it.
  await Deno.mkdir(join(root, "out"), { recursive: true });
  await doc("--html", "--name=Fringebook", `--output=${folder}`, ...paths);
  const { nodes } = JSON.parse(await doc("--json", ...paths)) as {
    nodes: Record<string, { symbols: DocSymbol[]; module_doc?: unknown }>;
  };
  const symbolsOf = (path: string) =>
    nodes[new URL(`../../${path}`, import.meta.url).href]?.symbols ?? [];
  const first = await Deno.readTextFile(join(root, config.exports["."]));
  const page = taskPage({
    tasks: tasksOf(first),
    doors: doors.map(([door, path]) => ({
      name: door.replace(".", "fringebook"),
      folder: door === "." ? "" : `${door.slice(2)}/`,
      symbols: symbolsOf(path),
    })),
  });
  await writeWhole(join(folder, "tasks.html"), page);
  console.log(
    `By task: ${join(folder, "tasks.html")}\nBy door: ${
      join(folder, "index.html")
    }`,
  );
  return 0;
}

/** The task. */
export const task: Task = {
  name: "api",
  help: `deno task api

Writes the reference of all that the doors export, with search, into 'out/api/':
'tasks.html' has it by task on one page, 'index.html' by door.

Exit codes: 0 written, 1 not, 2 wrong arguments.`,
  run: api,
};

if (import.meta.main) await runTask(task);
