import type { DataFolder } from "../data.ts";
import type { Row } from "../row.ts";
import { makeText, type TextStyle, writeNpy, writeWav } from "./files.ts";

const oursFile = new URL("./read.ts", import.meta.url);
const theirsFile = new URL("./read.py", import.meta.url);

/**
 * Reading whole files.
 *
 * @param data Where the files are made.
 * @param rows Rows of the text files; the binary ones hold ten times as many.
 */
export function readingRows(data: DataFolder, rows: number): Row[] {
  return [
    text(data, "short", "text, 5 or 6 decimals", rows),
    text(data, "exponent", "text, exponents", rows),
    text(data, "full", "text, 15 to 17 digits", rows),
    text(data, "comma", "text, decimal comma", rows, {
      sep: ";",
      decimal: ",",
    }),
    {
      ...text(data, "short", "text, 5 or 6 decimals", rows),
      theirs: {
        file: theirsFile,
        name: "numpy_text",
        options: { path: makeText(data, "short", rows).file },
        needs: ["numpy"],
      },
      other: "numpy.loadtxt",
      mostRuns: 3,
    },
    {
      ...text(data, "one", "text, one column", rows),
      theirs: {
        file: theirsFile,
        name: "numpy_column",
        options: { path: makeText(data, "one", rows).file },
        needs: ["numpy"],
      },
      other: "numpy.fromfile",
    },
    ...binary(data, "float64.npy", "NPY float64", 10 * rows),
    ...binary(data, "float32_2.npy", "NPY 2 × float32", 10 * rows),
    ...binary(data, "float32.wav", "WAV float32", 10 * rows),
    ...binary(data, "int16_2.wav", "WAV 2 × int16", 10 * rows),
  ];
}

function text(
  data: DataFolder,
  style: TextStyle,
  name: string,
  rows: number,
  settings: Record<string, string> = {},
): Row {
  const { file, prepare } = makeText(data, style, rows);
  return {
    name,
    ours: {
      file: oursFile,
      name: "read",
      options: { path: file, options: { samplingRate: 1e6 } },
    },
    theirs: {
      file: theirsFile,
      name: "pandas_text",
      options: { path: file, ...settings },
      needs: ["pandas"],
    },
    other: "pandas.read_csv",
    file,
    prepare,
  };
}

/** Two rows: with the SHA-256 of the file on both sides, and without. */
function binary(
  data: DataFolder,
  name: string,
  title: string,
  samples: number,
): Row[] {
  const file = data.path(name);
  const isNpy = name.endsWith(".npy");
  const type = /^[a-z]+\d+/.exec(name)![0] as "float32" | "int16";
  const columns = name.includes("_2") ? 2 : 1;
  return [true, false].map((hash): Row => ({
    name: `${title}${hash ? " and SHA-256" : ""}`,
    ours: {
      file: oursFile,
      name: "read",
      options: {
        path: file,
        options: { samplingRate: 192e3, ...(hash ? {} : { sha256: false }) },
      },
    },
    theirs: {
      file: theirsFile,
      name: isNpy ? "npy" : "wav",
      options: { path: file, hash },
      needs: isNpy ? ["numpy"] : ["numpy", "scipy"],
    },
    other: `${isNpy ? "numpy.load" : "scipy.io.wavfile"}${
      hash ? ", hashlib" : ""
    }`,
    file,
    prepare: () =>
      data.make(
        name,
        (path) =>
          isNpy
            ? writeNpy(path, type, samples, columns)
            : writeWav(path, type, samples, columns),
      ),
  }));
}
