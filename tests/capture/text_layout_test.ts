import { describe, expect, it } from "vitest";
import {
  parseCapture,
  parseCaptures,
  type ReadCaptureOptions,
} from "fringebook";

const read = (text: string, options: ReadCaptureOptions = {}) =>
  parseCapture(new TextEncoder().encode(text), {
    fileName: "x.csv",
    ...options,
  });
const samples = (text: string, options: ReadCaptureOptions = {}) =>
  read(text, options).channels.map(({ samples }) => Array.from(samples));
const codes = (text: string, options: ReadCaptureOptions = {}) =>
  read(text, options).warnings.map(({ code }) => code);

// Layouts of scopes and loggers: common practice, no source.
describe("delimited text", () => {
  it("takes comma, semicolon, tab, bar and spaces", () => {
    for (const mark of [",", ";", "\t", "|", "  "]) {
      const text = ["time (s),monitor (V)", "0,1.5", "0.5,-2e-3", "1,3"]
        .join("\n").replaceAll(" (", "(").replaceAll(",", mark);
      expect(samples(text)).toEqual([[1.5, -0.002, 3]]);
      expect(read(text).samplingRate).toBe(2);
    }
  });
  it("takes a byte-order mark, CRLF, UTF-16 and Windows-1252", () => {
    const text = "time (µs);monitor (mV)\r\n0;1\r\n2;2\r\n4;3\r\n";
    const windows = Uint8Array.from(text, (c) => c.charCodeAt(0));
    const utf16 = new Uint8Array(
      Uint16Array.from("\ufeff" + text, (c) => c.charCodeAt(0)).buffer,
    );
    const swapped = utf16.slice();
    for (let at = 0; at < utf16.length; at += 2) {
      swapped[at] = utf16[at + 1]!;
      swapped[at + 1] = utf16[at]!;
    }
    for (
      const bytes of [
        new TextEncoder().encode(text),
        new TextEncoder().encode("\ufeff" + text),
        windows,
        utf16,
        swapped,
      ]
    ) {
      const capture = parseCapture(bytes);
      expect(capture.samplingRate).toBeCloseTo(5e5, 6);
      expect(capture.channels[0]!.unit).toBe("V");
      expect(Array.from(capture.channels[0]!.samples))
        .toEqual([0.001, 0.002, 0.003]);
    }
  });
  it("takes decimal commas beside semicolon, tab, space and in quotes", () => {
    expect(samples("t (s);a (V)\n0;0,5\n1;1,25\n2;-3,0e-2")).toEqual([
      [0.5, 1.25, -0.03],
    ]);
    expect(samples("t (s)\ta (V)\n0\t0,5\n1\t1,25\n2\t3,125")).toEqual([
      [0.5, 1.25, 3.125],
    ]);
    expect(samples('t (s),a (V)\n"0","0,5"\n"1","1,25"\n"2","0,75"')).toEqual([
      [0.5, 1.25, 0.75],
    ]);
  });
  it("takes thousands separators of every kind", () => {
    const wanted = [[1234.5, 12345678.25, 3]];
    expect(samples("a (V)\n1,234.5\n12,345,678.25\n3\n", {
      samplingRate: 1,
      delimiter: ";",
    })).toEqual(wanted);
    for (const mark of [".", " ", "'", "\u00a0", "\u202f"]) {
      const text = `t (s);a (V)\n0;1#234,5\n1;12#345#678,25\n2;3\n`
        .replaceAll("#", mark);
      expect(samples(text)).toEqual(wanted);
    }
  });
  it("says so when a comma could be decimal or thousands", () => {
    const text = "t (s);a (V)\n0;1,234\n1;2,345\n2;3,456\n";
    expect(samples(text)).toEqual([[1.234, 2.345, 3.456]]);
    expect(codes(text)).toContain("comma-ambiguous");
    expect(samples(text, { decimalMark: ".", thousandsMark: "," })).toEqual([
      [1234, 2345, 3456],
    ]);
  });
  it("refuses a comma that is delimiter and decimal mark at once", () => {
    expect(() => read("time,v\n0,001,0,25\n0,002,0,26\n0,003,0,27\n"))
      .toThrow("delimiter and decimal mark at once");
  });
  it("reads units from brackets, slashes, underscores and a line of their own", () => {
    const headings: [string, string, number][] = [
      ["monitor (mV)", "V", 0.001],
      ["monitor [mV]", "V", 0.001],
      ["monitor/mV", "V", 0.001],
      ["monitor_mV", "V", 0.001],
      ["monitor mV", "V", 0.001],
      ["monitor in µA", "A", 1e-6],
      ["monitor (Volts)", "V", 1],
      ["monitor (milliamps)", "A", 0.001],
    ];
    for (const [heading, unit, scale] of headings) {
      const channel = read(`time (s),${heading}\n0,1\n1,2\n2,3`).channels[0]!;
      expect([channel.name, channel.unit, channel.scale])
        .toEqual(["monitor", unit, scale]);
    }
    const below = read("time,monitor,drive\ns,mV,mA\n0,1,2\n1,2,3\n2,3,4\n");
    expect(below.channels.map(({ unit }) => unit)).toEqual(["V", "A"]);
    const bracketed = read("time,monitor\n(ms),(V)\n0,1\n1,2\n2,3\n");
    expect(bracketed.samplingRate).toBe(1000);
  });
  it("reads metadata above the numbers in several styles", () => {
    const capture = read(
      "# operator: A; B\n% lens = f 8 mm\nSample Interval,2e-6\n" +
        "Start time: 2026-05-01 12:00:00\n\nCH1 (V),CH2 (V)\n1,2\n3,4\n",
    );
    expect(capture.metadata).toEqual({
      operator: "A; B",
      lens: "f 8 mm",
      "Sample Interval": "2e-6",
      "Start time": "2026-05-01 12:00:00",
    });
    expect(capture.samplingRate).toBe(1 / 2e-6);
    expect(capture.startTime).toBe("2026-05-01T12:00:00");
  });
  it("understands the sampling rate in many words", () => {
    const words: [string, number][] = [
      ["sampling rate: 2 MHz", 2e6],
      ["Sample Rate,2500000", 2.5e6],
      ["Sampling frequency = 500 kSa/s", 5e5],
      ["Sample interval: 4 µs", 250e3],
      ["dt: 1e-5", 1e5],
      ["X increment,0.5 ms", 2000],
      ["Sample period (us): 10", 1e5],
      ["Time step: 20 ns", 5e7],
    ];
    for (const [line, rate] of words) {
      // Reciprocals of decimal intervals are good to a few units of rounding.
      const found = read(`# ${line}\nmonitor (V)\n1\n2\n3\n`).samplingRate;
      expect(Math.abs(found / rate - 1)).toBeLessThan(1e-12);
    }
  });
  it("reads remarks in columns beside the first rows", () => {
    const text = "Record Length,5,,0,0.1\nSample Interval,0.5,,0.5,0.2\n" +
      "Probe,10,,1,0.3\n,,,1.5,0.4\n,,,2,0.5\n";
    const capture = read(text);
    expect(capture.channels.map(({ samples }) => Array.from(samples)))
      .toEqual([[0.1, 0.2, 0.3, 0.4, 0.5]]);
    expect(capture.samplingRate).toBe(2);
    expect(capture.metadata).toEqual({
      "Record Length": "5",
      "Sample Interval": "0.5",
      "Probe": "10",
    });
  });
  it("leaves out columns of text and columns without a value, and says so", () => {
    const text = "time (s),state,a (V),b (V)\n0,run,1,\n1,run,2,\n2,end,3,\n";
    const capture = read(text);
    expect(capture.channels.map(({ name }) => name)).toEqual(["a"]);
    expect(capture.warnings.map(({ code }) => code)).toEqual([
      "text-column",
      "empty-column",
      "role-assumed",
    ]);
  });
  it("keeps a column whose values come late", () => {
    const rows = Array.from(
      { length: 1500 },
      (_, n) => `${n};${n};${n < 1400 ? "" : 7}`,
    );
    const named = `t (s);a (V);b (V)\n${rows.join("\n")}\n`;
    expect(read(named).channels[1]!.samples[1499]).toBe(7);
    expect(() => read(rows.join("\n"))).toThrow(
      "line 1401 has",
    );
  });
  it("takes an interval that is said once per column", () => {
    const text = "Sample Interval,2e-6,2e-6\nCH1 (V),CH2 (V)\n1,2\n3,4\n5,6\n";
    expect(read(text).samplingRate).toBe(1 / 2e-6);
  });
  it("takes an interval from a line of values under the names", () => {
    const text = "X,CH1,Start,Increment\nSequence,mV,-1.2e-03,2e-06\n" +
      "0,0.5,,\n1,1.5,,\n2,2.5,,\n";
    const capture = read(text);
    expect(capture.samplingRate).toBe(1 / 2e-6);
    expect(capture.channels.map(({ name, unit }) => [name, unit]))
      .toEqual([["CH1", "V"]]);
    expect(samples(text)).toEqual([[0.0005, 0.0015, 0.0025]]);
    expect(capture.metadata).toEqual({ Start: "-1.2e-03", Increment: "2e-06" });
  });
  it("takes a label in the place of the time for the units of the channels", () => {
    const text = "Source,CH1,CH2\nVertical Units,V,mA\n" +
      "Sample Interval,2e-6\nTIME,CH1,CH2\n0,1,40\n2e-6,2,41\n4e-6,3,42\n";
    expect(
      read(text).channels.map(({ name, unit, scale }) => [
        name,
        unit,
        scale,
      ]),
    ).toEqual([["CH1", "V", 1], ["CH2", "A", 0.001]]);
  });
  it("takes quoted keys, and a unit in the key beside a bare prefix", () => {
    const one = '"Sampling Rate","1.0E+06"\n"CH1 (V)"\n1\n2\n3\n';
    expect(read(one).samplingRate).toBe(1e6);
    const two = '"Model","xy, 2 ch"\n"Sample rate (Sa/s)","250 k"\n\n' +
      '"A (V)","B (mA)"\n1,40\n2,41\n3,42\n';
    expect(read(two).samplingRate).toBe(250e3);
    expect(read(two).channels.map(({ unit }) => unit)).toEqual(["V", "A"]);
  });
  it("takes exponents after a D, and fields of dashes or stars for missing", () => {
    const text = "t (s),y (V)\n0.0D+00,1.5D+00\n1.0D-03,-----\n" +
      "2.0D-03,*****\n3.0D-03,2.5d-1\n";
    expect(samples(text)).toEqual([[1.5, NaN, NaN, 0.25]]);
    expect(read(text).samplingRate).toBe(1000);
  });
  it("takes spaces between thousands where tabs part the fields", () => {
    const text = "t (ms)\tU (uV)\n0\t12 340\n1\t1 512 341\n2\t342\n";
    expect(samples(text)).toEqual([[0.01234, 1.512341, 0.000342]]);
  });
  it("reads headings with a label and one cell per column", () => {
    const text = '"Block Number","1"\n"Trace Name","monitor","drive"\n' +
      '"Sample Rate","1.0E+06","1.0E+06"\n"Unit","mV","mA"\n1.5,2\n3,4\n5,6\n';
    const capture = read(text);
    expect(capture.channels.map(({ name, unit }) => [name, unit])).toEqual([
      ["monitor", "V"],
      ["drive", "A"],
    ]);
    expect(capture.samplingRate).toBe(1e6);
    expect(capture.warnings).toEqual([]);
  });
  it("reads names with units or blanks between spaces", () => {
    const units = "# time (ms) monitor (mV)\n0 1\n1 2\n2 3\n";
    expect(read(units).samplingRate).toBe(1000);
    expect(read(units).channels[0]!.unit).toBe("V");
    const blanks = "time [s]   photo diode [V]\n0   1\n1   2\n2   3\n";
    expect(read(blanks).channels[0]!.name).toBe("photo diode");
  });
  it("drops a counter column and uses the interval", () => {
    const text = "sample interval: 1e-3\nindex;monitor (V)\n0;5\n1;6\n2;7\n";
    expect(samples(text)).toEqual([[5, 6, 7]]);
    expect(read(text).samplingRate).toBe(1000);
  });
  it("reads clock times and dates", () => {
    const clock = "time;a (V)\n12:00:00.000;1\n12:00:00.250;2\n12:00:00.500;3";
    expect(read(clock).samplingRate).toBe(4);
    const other = "date;a (V)\n01.05.2026 12:00:00,0;1\n" +
      "01.05.2026 12:00:00,5;2\n01.05.2026 12:00:01,0;3\n";
    expect(read(other).samplingRate).toBe(2);
    const apart = "day;time;a (V)\n01.05.2026;12:00:00,0;0,1\n" +
      "01.05.2026;12:00:00,5;0,2\n01.05.2026;12:00:01,0;0,3\n";
    expect(samples(apart)).toEqual([[0.1, 0.2, 0.3]]);
    expect(read(apart).samplingRate).toBe(2);
    const date = "time,a (V)\n2026-05-01T12:00:00.0,1\n" +
      "2026-05-01T12:00:00.1,2\n2026-05-01T12:00:00.2,3\n";
    // Seconds since 1970 leave 2.4e-7 s of rounding at this date.
    expect(Math.abs(read(date).samplingRate / 10 - 1)).toBeLessThan(1e-5);
  });
  it("reads one line per channel", () => {
    const numbers = (f: (n: number) => number) =>
      Array.from({ length: 40 }, (_, n) => f(n)).join(",");
    const text = `operator: A\ntime (ms),${numbers((n) => n / 2)}\n` +
      `monitor,mV,${numbers((n) => n * n)}\n`;
    const capture = read(text.replace("monitor,mV", "monitor (mV)"));
    expect(capture.sampleCount).toBe(40);
    expect(capture.samplingRate).toBe(2000);
    expect(capture.channels[0]!.samples[3]).toBe(0.009);
    expect(capture.metadata).toEqual({ operator: "A" });
    const bare = `${numbers((n) => n % 7)}\n${numbers((n) => n % 5)}\n`;
    expect(codes(bare, { samplingRate: 1 })).toContain("orientation-assumed");
    expect(codes(text)).not.toContain("orientation-assumed");
    const forced = read("1 2 3 4 5 6 7 9\n8 7 6 5 4 3 2 1\n", {
      orientation: "rows",
      samplingRate: 1,
    });
    expect(forced.channels.length).toBe(2);
  });
  it("reads missing values as NaN and counts them", () => {
    const text = "time (s),a (V)\n0,1\n1,\n2,NaN\n3,--\n4,OVERLOAD\n5,2\n";
    expect(samples(text)).toEqual([[1, NaN, NaN, NaN, NaN, 2]]);
    const found = read(text).warnings.find(({ code }) =>
      code === "missing-values"
    );
    expect(found?.message).toContain("4 values");
    expect(samples("t (s),a (V)\n0,1\n1,gone\n2,3\n", { missing: ["gone"] }))
      .toEqual([[1, NaN, 3]]);
  });
  it("applies a scale factor only when its unit per count is said", () => {
    const text = (line: string) =>
      `# ${line}\n# dt: 1 ms\nmonitor (counts)\n100\n200\n`;
    expect(samples(text("scale factor: 0.5 mV/count"))).toEqual([[0.05, 0.1]]);
    expect(codes(text("scale factor: 0.5 mV/count"))).toContain(
      "scale-applied",
    );
    expect(samples(text("scale factor: 0.5"))).toEqual([[100, 200]]);
  });
  it("reads segmented records by heading, blank line, record column or time", () => {
    const rows = "0,1\n1,2\n2,3\n3,4\n";
    const head = "time (s),monitor (V)\n";
    const column = "segment,time (s),monitor (V)\n" +
      [0, 1].flatMap((segment) =>
        [0, 1, 2, 3].map((n) => `${segment},${n},${n + 1}\n`)
      ).join("");
    for (
      const text of [
        head + rows + head + rows,
        head + rows + "\n" + rows,
        head + rows + "Segment 2\n" + head + rows,
        head + rows + rows,
        column,
      ]
    ) {
      const bytes = new TextEncoder().encode(text);
      const captures = parseCaptures(bytes);
      expect(captures.map(({ sampleCount }) => sampleCount)).toEqual([4, 4]);
      expect(captures.map(({ samplingRate }) => samplingRate)).toEqual([1, 1]);
      expect(captures.map(({ channels }) => channels.length)).toEqual([1, 1]);
      expect(parseCapture(bytes).warnings.map(({ code }) => code))
        .toContain("several-records");
      expect(
        Array.from(parseCapture(bytes, { record: 1 }).channels[0]!.samples),
      )
        .toEqual([1, 2, 3, 4]);
    }
  });
  it("warns of uneven time, gaps and time that runs back", () => {
    expect(codes("t (s),a (V)\n0,1\n1,2\n2,3\n7,4\n8,5\n9,6\n")).toContain(
      "time-gap",
    );
    expect(codes("t (s),a (V)\n0,1\n1,2\n2,3\n1.5,4\n2.5,5\n3.5,6\n"))
      .toContain("time-runs-back");
    const jitter = Array.from(
      { length: 100 },
      (_, n) => `${n + 1.2 * Math.sin(n / 5)},1`,
    ).join("\n");
    expect(codes(`t (s),a (V)\n${jitter}\n`)).toContain("non-uniform-time");
  });
  it("gives the rate over the whole span when times are printed short", () => {
    const lines = Array.from(
      { length: 2000 },
      (_, n) => `${(n / 48000).toFixed(6)},${n}`,
    );
    const { samplingRate, warnings } = read(
      `time (s),a (V)\n${lines.join("\n")}\n`,
    );
    // One last digit (1e-6 s) over the span of 41.6 ms.
    expect(Math.abs(samplingRate / 48000 - 1)).toBeLessThan(2.5e-5);
    expect(warnings.map(({ code }) => code)).toEqual(["role-assumed"]);
  });
  it("warns when heading and time column disagree on the rate", () => {
    expect(codes("# sampling rate: 2 kHz\nt (s),a (V)\n0,1\n1e-3,2\n2e-3,3\n"))
      .toContain("sampling-rate-disagrees");
  });
});

describe("bad text", () => {
  const message = (text: string, options: ReadCaptureOptions = {}) => {
    try {
      read(text, options);
      return "no error";
    } catch (error) {
      return `${(error as Error).name}: ${(error as Error).message}`;
    }
  };
  it("says that a file is empty or blank", () => {
    expect(message("")).toBe(
      "CaptureFormatError: Cannot read 'x.csv' as it is empty: check that the recorder has written it, and record again",
    );
    expect(message("\n \r\n")).toContain("only blank lines");
  });
  it("says that one sample has no sampling rate", () => {
    expect(message("time (s),a (V)\n0,1\n")).toContain("one sample only");
  });
  it("names the line and field of text where a number belongs", () => {
    expect(message("t (s),a (V)\n0,1\n1,2\n2,three\n3,4\n")).toContain(
      "line 4 has text where a number belongs: field 2 is 'three'",
    );
  });
  it("names the line with too many or too few fields", () => {
    expect(message("t (s),a (V)\n0,1\n1,2\n2,3,9\n3,4\n")).toContain(
      "line 4 has 3 fields where 2 are expected",
    );
    expect(message("t (s),a (V)\n0,1\n1,2\n2\n3,4\n")).toContain(
      "line 4 has 1 field where 2 are expected",
    );
  });
  it("refuses binary junk as neither text nor known", () => {
    const junk = Uint8Array.from({ length: 300 }, (_, n) => (n * 89) % 256);
    expect(() => parseCapture(junk)).toThrow("neither text nor a known");
  });
  it("says what to give when there is no time and no interval", () => {
    expect(message("a (V)\n1\n2\n3\n")).toContain("give 'samplingRate' in Hz");
    expect(message("t (s),a (V)\n5,1\n5,2\n5,3\n")).toContain("does not rise");
  });
  it("says so when a wrong delimiter is forced", () => {
    expect(message("t;a\n0;1\n1;2\n", { delimiter: "," })).toContain(
      "Check the file, or give 'delimiter'",
    );
  });
  it("leaves out a last line that is cut off, and says so", () => {
    const capture = read("t (s),a (V)\n0,1\n1,2\n2,3\n3");
    expect(capture.sampleCount).toBe(3);
    expect(capture.warnings.map(({ code }) => code)).toContain("truncated");
  });
  it("refuses options for a channel that is not there", () => {
    expect(message("t (s),a (V)\n0,1\n1,2\n", { channels: { b: "other" } }))
      .toContain("there is no such channel: the file has 0: 'a'");
  });
  it("keeps a hostile metadata key from reaching any prototype", () => {
    const capture = read(
      "# __proto__: polluted\n# constructor: x\n# dt: 1\na (V)\n1\n2\n",
    );
    expect(Object.keys(capture.metadata)).toContain("__proto__");
    expect(({} as Record<string, unknown>).polluted).toBe(undefined);
    expect(Object.getPrototypeOf(capture.metadata)).toBe(Object.prototype);
  });
});
