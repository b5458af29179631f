/** Tasks as they are typed, in a folder of their own, and what they said. */
import { basename, join } from "@std/path";
import { demand } from "../tally.ts";

export const project = new URL("../../../", import.meta.url).pathname;
export const templates = join(project, "notebooks", "templates");
export const shipped = (name: string) => join(project, "datasets", name);
export const light = ["--wavelength", "650nm"];
export const strangersChannels = [
  ...["--monitor", "1", "--drive", "CH2"],
  ...["--current-per-voltage", "10mA/V"],
];

export const work = await Deno.makeTempDir();
export const strange = join(work, "strange");
export const readings = (separator: string, comma: string) =>
  [
    ["file", "distance (mm)", "standard uncertainty (mm)"],
    ...["060", "120", "200"].map((distance) => [
      `tuning-${distance}mm.csv`,
      `${Number(distance)}${comma}0`,
      `0${comma}2`,
    ]),
  ].map((row) => row.join(separator)).join("\n") + "\n";

/** Runs `deno task NAME …` in a folder of its own, and what it said. */
export async function task(name: string, ...given: string[]) {
  const { code, stdout, stderr } = await new Deno.Command(Deno.execPath(), {
    args: ["task", "--config", join(project, "deno.json"), name, ...given],
    cwd: work,
    env: { NO_COLOR: "1" },
  }).output();
  const decoder = new TextDecoder();
  const said = decoder.decode(stdout) + decoder.decode(stderr);
  demand(!/^\s+at .+:\d+:\d+\)?$/m.test(said), `a stack is shown:\n${said}`);
  return { code, said };
}

/** The same, and it must end well. */
export async function good(name: string, ...given: string[]): Promise<string> {
  const { code, said } = await task(name, ...given);
  demand(code === 0, `exit code ${code}:\n${said}`);
  return said;
}

/** What `measure` reports of a shipped capture, as its JSON lines hold it. */
export interface Reported {
  readonly headlines: readonly {
    readonly label: string;
    readonly value: number;
    readonly standardUncertainty: number;
    readonly coverageFactor?: number;
  }[];
  readonly rows: readonly {
    readonly label: string;
    readonly text: string;
    readonly value?: number | string;
    readonly standardUncertainty?: number;
  }[];
}

/** Measures shipped captures in one call, by name. */
export async function measured(
  flags: readonly string[],
  ...names: string[]
): Promise<Map<string, Reported[]>> {
  const output = join(work, `${names.join("+")}.jsonl`);
  const files = names.map((name) => shipped(`${name}.csv`));
  await good("measure", ...files, ...flags, "--output", output);
  const lines = (await Deno.readTextFile(output)).trim().split("\n");
  return new Map(lines.map((line) => {
    const { file, reports } = JSON.parse(line) as {
      file: string;
      reports: Reported[];
    };
    return [basename(file, ".csv"), reports];
  }));
}

/** The code cell that a run put behind the parameters of a note. */
export async function injected(path: string): Promise<string> {
  const { cells } = JSON.parse(await Deno.readTextFile(path)) as {
    cells: { metadata: { tags?: string[] }; source: string[] }[];
  };
  const cell = cells.find(({ metadata }) =>
    metadata.tags?.includes("set-by-run")
  );
  return cell?.source.join("") ?? "";
}

export function exists(path: string): Promise<boolean> {
  return Deno.stat(path).then(() => true, () => false);
}
