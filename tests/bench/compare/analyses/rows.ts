import type { DataFolder } from "../data.ts";
import type { Row } from "../row.ts";
import { signalFile, type SignalName } from "./signals.ts";

const oursFile = new URL("./analyse.ts", import.meta.url);
const theirsFile = new URL("./analyse.py", import.meta.url);

/** What is analysed: name of the row, of the job, of the signal. */
const analyses: readonly {
  name: string;
  job: string;
  /** Job of the other side, where it has another name. */
  otherJob?: string;
  signal: SignalName;
  other: string;
}[] = [
  {
    name: "displacement",
    job: "displacement",
    signal: "swinging",
    other: "hilbert, unwrap",
  },
  { name: "spectrum", job: "spectrum", signal: "swinging", other: "welch" },
  {
    name: "spectrogram",
    job: "spectrogram",
    signal: "swinging",
    other: "spectrogram",
  },
  {
    name: "ramp ranging",
    job: "ramps",
    signal: "ramping",
    other: "hilbert, unwrap",
  },
  {
    name: "ramp ranging, phase slope",
    job: "ramps_phase",
    otherJob: "ramps",
    signal: "ramping",
    other: "hilbert, unwrap",
  },
];

/** Records of more millions of samples than this are streamed. */
const mostInMemory = 20;

/**
 * Analyses of long records: in memory up to 20 million samples, block by block
 * from the file beyond, on both sides.
 *
 * @param data Where the files are made.
 * @param millions Millions of samples of each record.
 */
export function analysisRows(
  data: DataFolder,
  millions: readonly number[],
): Row[] {
  return millions.flatMap((size) =>
    analyses.map((analysis): Row => {
      const { name, job, otherJob = job, signal, other } = analysis;
      const samples = size * 1e6;
      const streamed = size > mostInMemory;
      const { file, prepare } = signalFile(data, signal, samples);
      const route = (job: string) => ({
        name: streamed ? `${job}_stream` : job,
        options: { path: file },
      });
      return {
        name: `${name}, ${size} M samples${streamed ? ", streamed" : ""}`,
        ours: { file: oursFile, ...route(job) },
        theirs: {
          file: theirsFile,
          ...route(otherJob),
          needs: ["numpy", "scipy"],
        },
        other,
        samples,
        prepare,
        mostRuns: streamed ? 2 : Infinity,
      };
    })
  );
}
