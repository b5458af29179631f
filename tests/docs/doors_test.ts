import { libraryVersion } from "fringebook/result";
import { describe, expect, it } from "vitest";
import config from "../../deno.json" with { type: "json" };
import { taskPage, tasksOf } from "../../lib/cli/api/task_page.ts";
import {
  type Declaration,
  type DocParameter,
  type Exported,
  exported,
} from "./exported.ts";

/** The verbs of DEVELOPERS.md, "Names": one meaning each. */
const verbs = new Set(
  `measure track count estimate recognise gather find check plan simulate
  calibrate fit propagate predict compare diagnose summarise
  read parse open sniff load write encode save create make connect sign verify
  cut undo apply remove subtract filter condition detrend thin convert split
  display show draw print format escape ask record watch warn require
  run render inject register set join decode`.split(/\s+/),
);

const doors = await exported();
const values = (symbols: readonly Exported[]) =>
  symbols.filter(({ declarations }) =>
    declarations.some(({ kind }) =>
      kind === "function" || kind === "class" || kind === "variable"
    )
  );

/** Functions of all doors, each once. */
const functions = new Map(
  [...doors.values()].flat().flatMap(({ name, declarations }) => {
    const found = declarations.find(({ kind }) => kind === "function");
    return found === undefined ? [] : [[name, found] as const];
  }),
);

const typeOf = ({ tsType, left }: DocParameter): string =>
  tsType?.repr ?? (left === undefined ? "" : typeOf(left));

function takes(declaration: Declaration, types: RegExp): boolean {
  return (declaration.def?.params ?? []).some((param) =>
    types.test(typeOf(param))
  );
}

function waits({ def }: Declaration): boolean {
  const { typeName } = (def?.returnType?.value ?? {}) as { typeName?: string };
  return typeName === "Promise";
}

const firstWord = (name: string) => /^[a-z]+/.exec(name)![0];
const streams = /^(CaptureStream|BlockSource)$/;

/** Why a name is not as the rule of DEVELOPERS.md has it; `null` where it is. */
function against(name: string, declaration: Declaration): string | null {
  if (takes(declaration, streams) && name !== "runBlocks") {
    const whole = name.replace(/Stream$/, "");
    return whole !== name && functions.has(whole)
      ? null
      : `${name}: takes a stream and is not named after a function with 'Stream' behind`;
  }
  if (verbs.has(firstWord(name))) return null;
  if (/(From|To|Of)([A-Z]|$)/.test(name)) return null;
  if (takes(declaration, /^Capture$/)) {
    return `${name}: works on a capture and begins with no verb of the list`;
  }
  return waits(declaration)
    ? `${name}: waits and begins with no verb of the list`
    : null;
}

describe("the version", () => {
  it("is the same in the package, in results and of the kernel, and has its changes", async () => {
    expect(libraryVersion).toBe(config.version);
    const text = (path: string) =>
      Deno.readTextFile(new URL(`../../${path}`, import.meta.url));
    expect(await text("lib/kernel/protocol/handlers/info.ts"))
      .toContain(`IMPLEMENTATION_VERSION = "${config.version}"`);
    expect(await text("notebooks/guide/changes.md"))
      .toContain(`\n## ${config.version}\n`);
  });
});

describe("the reference by task", () => {
  it("has every value of the first door under a task, with a sentence", async () => {
    const first = await Deno.readTextFile(
      new URL("../../lib/mod.ts", import.meta.url),
    );
    const tasks = tasksOf(first);
    const names = values(doors.get(".")!).map(({ name }) => name);
    expect(tasks.flatMap((task) => task.names).sort()).toEqual(names.sort());
    const page = taskPage({
      tasks,
      doors: [...doors].map(([name, symbols]) => ({
        name,
        folder: name === "." ? "" : `${name.slice(2)}/`,
        symbols,
      })),
    });
    expect(page).toContain('<a href="signal/~/welchStream.html">');
    expect(page).not.toContain("</a></td><td></td>");
  });
});

describe("the doors", () => {
  it("have at most 120 values behind the first, and no plumbing", () => {
    const names = values(doors.get(".")!).map(({ name }) => name);
    // Each symbol counts at the first door that has it.
    console.log(
      [...doors].map(([door, symbols]) =>
        `${door.replace(/^\./, "fringebook")} ${values(symbols).length}`
      ).join(", "),
    );
    expect(names.length).toBeGreaterThan(80);
    expect(names.length).toBeLessThanOrEqual(120);
    const plumbing =
      /^(registerPresenter|presenterFor|createResult|provenance|warn|set[A-Z].*|runBlocks|checkpoint|escape.*|jsonInScript|activateFigures|bundleOf.*|require(?!Channel).*)$/;
    expect(names.filter((name) => plumbing.test(name))).toEqual([]);
  });

  it("hold what the first door has, under the same name, in their rooms", () => {
    const rooms = new Set(
      [...doors].filter(([door]) => door !== ".")
        .flatMap(([, symbols]) => symbols.map(({ name }) => name)),
    );
    // The errors have no door of their own.
    const alone = values(doors.get(".")!).map(({ name }) => name)
      .filter((name) => !rooms.has(name));
    expect(alone).toEqual(["CaptureFormatError", "NotMeasurableError"]);
  });

  it("name their functions by the rule", () => {
    expect(functions.size).toBeGreaterThan(150);
    const offenders = [...functions]
      .map(([name, declaration]) => against(name, declaration))
      .filter((reason) => reason !== null);
    expect(offenders).toEqual([]);
  });

  it("show results, whichever of them was opened", async () => {
    const program = `
      import { fitLine } from "fringebook/fit";
      const fit = fitLine([1, 2, 3, 4], [1, 2.1, 2.9, 4]);
      const bundle = await fit[Symbol.for("Jupyter.display")]();
      console.log(Object.keys(bundle).includes("text/plain"));
    `;
    const { stdout, stderr } = await new Deno.Command(Deno.execPath(), {
      args: ["eval", "--cached-only", program],
      cwd: new URL("../../", import.meta.url),
    }).output();
    const decoder = new TextDecoder();
    expect([decoder.decode(stdout).trim(), decoder.decode(stderr)])
      .toEqual(["true", ""]);
  });
});
