import type { DataFolder } from "../data.ts";
import { makeText } from "../reading/files.ts";
import type { Row } from "../row.ts";

const readFile = new URL("../reading/read.ts", import.meta.url);
const measure = new URL("../../../../lib/cli/measure.ts", import.meta.url)
  .pathname;
const capture = new URL("../../../../datasets/disc-1.wav", import.meta.url);

/**
 * The same work on two cores and on one: "ours" is two, "theirs" is one, so that
 * the ratio is what the second core brings.
 *
 * @param data Where the files are made.
 * @param rows Rows of the text file.
 * @param captures Captures of the batch.
 */
export function coreRows(
  data: DataFolder,
  rows: number,
  captures: number,
): Row[] {
  const { file, prepare } = makeText(data, "full", rows);
  const text = (threads: number) => ({
    file: readFile,
    name: "read",
    options: { path: file, options: { samplingRate: 1e6, threads } },
  });
  const batch = (jobs: number) => ({
    command: Deno.execPath(),
    arguments: [
      "run",
      "-A",
      "--no-check",
      measure,
      "--wavelength=650nm",
      "--monitor=1",
      "--angle=78deg",
      "--json",
      `--jobs=${jobs}`,
      ...names(captures).map((name) => data.path(name)),
    ],
  });
  return [
    {
      name: "2 cores: long text, 15 to 17 digits",
      ours: text(2),
      theirs: text(1),
      other: "ours on 1 core",
      file,
      prepare,
    },
    {
      name: `2 cores: batch of ${captures} captures`,
      ours: batch(2),
      theirs: batch(1),
      other: "ours on 1 core",
      prepare: async () => {
        for (const name of names(captures)) {
          await data.make(name, (path) => Deno.copyFile(capture, path));
        }
      },
      mostRuns: 1,
    },
  ];
}

const names = (count: number) =>
  Array.from({ length: count }, (_, at) => `batch_${at}.wav`);
