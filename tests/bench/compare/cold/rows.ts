import type { Row } from "../row.ts";

const here = (name: string) => new URL(name, import.meta.url).pathname;
const dataset = (name: string) =>
  new URL(`../../../../datasets/${name}`, import.meta.url).pathname;

/** From starting a program to its first result, nothing being loaded yet. */
export function coldRows(): Row[] {
  return [
    {
      name: "cold start: import, whole process",
      ours: {
        command: Deno.execPath(),
        arguments: ["run", "-A", "--no-check", here("./import_library.ts")],
      },
      theirs: {
        command: "python3",
        arguments: ["-c", "import numpy, scipy.signal, scipy.io"],
        needs: ["numpy", "scipy"],
      },
      other: "import scipy.signal",
    },
    first("speed", "disc-1.wav", "wavfile, welch"),
    first("displacement", "vibration.wav", "wavfile, hilbert, unwrap"),
  ];
}

function first(what: string, capture: string, other: string): Row {
  return {
    name: `cold start: first ${what}`,
    ours: {
      command: Deno.execPath(),
      arguments: [
        "run",
        "-A",
        "--no-check",
        here(`./first_${what}.ts`),
        dataset(capture),
      ],
    },
    theirs: {
      command: "python3",
      arguments: [here(`./first_${what}.py`), dataset(capture)],
      needs: ["numpy", "scipy"],
    },
    other,
  };
}
