/**
 * `deno task watch`: shows a recorder, a pipe, an instrument or a simulated bench
 * as it comes, in a few lines that are drawn anew; records, takes captures, and
 * leads through a series.
 *
 * Exit codes: 0 done, 1 the source failed or what was asked for was not taken, 2
 * wrong arguments.
 *
 * @module
 */
import {
  genericScpi,
  parseInstrumentDescription,
  writeCapture,
} from "../capture/mod.ts";
import { recordSeries, watch, type WatchOptions } from "../display/mod.ts";
import { printReport } from "../display/mod.ts";
import {
  createInstrumentSource,
  createPipeSource,
  createRecorderSource,
  createSimulatedBench,
  type LiveSource,
  LiveSourceError,
} from "../live/mod.ts";
import { InstrumentError } from "../capture/mod.ts";
import { readTextUpTo } from "../runtime/mod.ts";
import {
  distancesOf,
  watchFlags,
  type WatchValues,
} from "./watch/watch_flags.ts";
import { layoutOf } from "./watch/layout.ts";
import {
  flagHelp,
  needed,
  readFlags,
  runTask,
  type Task,
  UsageError,
} from "./task/mod.ts";

const what = "watch";

/** The task. */
export const task: Task = {
  name: "watch",
  help: `deno task watch PIPE [options]

Shows a signal as it comes, and says what to turn next. PIPE is a named pipe, a
file that grows, a serial device with lines of numbers, or - for the standard
input: a recorder's WAV, bare numbers (--raw) or text. In its place --run
starts the recorder, --tcp asks an instrument, and --simulate makes a bench to
learn on. Ctrl+C ends it; what was recorded is kept.

  arecord -q -t wav -f S16_LE -r 192000 -c 2 | deno task watch - --monitor 1
  deno task watch /dev/ttyUSB0 --sampling-rate 1kHz
  deno task watch --simulate

${flagHelp(watchFlags)}

Exit codes: 0 done, 1 the source failed or what was asked for was not taken, 2
wrong arguments.`,
  run: run,
};

async function run(typed: readonly string[]): Promise<number> {
  const { values, rest } = readFlags(watchFlags, typed, { task: what });
  const source = await sourceOf(values, rest);
  const stop = new AbortController();
  const end = () => stop.abort();
  Deno.addSignalListener("SIGINT", end);
  try {
    return values.series === undefined
      ? await watchOnce(source, values, stop.signal)
      : await leadThrough(source, values, stop.signal);
  } catch (error) {
    if (
      error instanceof LiveSourceError || error instanceof InstrumentError
    ) {
      console.error(error.message);
      return stop.signal.aborted ? 0 : 1;
    }
    throw error;
  } finally {
    Deno.removeSignalListener("SIGINT", end);
  }
}

async function watchOnce(
  source: LiveSource,
  values: WatchValues,
  signal: AbortSignal,
): Promise<number> {
  const { take, wavelength } = values;
  if (values.speed === true) needed(watchFlags, values, "wavelength", what);
  if (values.displacement === true || values.tuning !== undefined) {
    needed(watchFlags, values, "wavelength", what);
  }
  const light = { wavelength: wavelength ?? 0 };
  const view = await watch(source, {
    ...shared(values),
    signal,
    ...(values.record === undefined ? {} : { record: values.record }),
    ...(values.keep === undefined ? {} : { keep: values.keep }),
    ...(values.displacement === true ? { displacement: light } : {}),
    ...(values.speed === true
      ? { speed: { ...light, angle: values.angle ?? 0 } }
      : {}),
    ...(values.tuning === undefined
      ? {}
      : { distance: { tuning: { ...light, tuning: values.tuning } } }),
    ...(values.near === undefined
      ? {}
      : { proximity: { near: values.near, far: farOf(values) } }),
    ...(take === undefined ? {} : {
      take: {
        duration: values["take-duration"] ?? 0.2,
        trigger: values.trigger === undefined ? null : { on: values.trigger },
      },
    }),
  });
  if (take !== undefined && view.taken !== null) {
    await writeCapture(take, view.taken);
    console.log(`Capture: ${take}`);
  }
  const isMissed = take !== undefined && view.taken === null;
  for (const { message } of view.warnings) console.error(message);
  return view.ended === "source failed" || isMissed ||
      (view.recording?.fault ?? null) !== null
    ? 1
    : 0;
}

function farOf({ near, far }: WatchValues): number {
  if (far !== undefined) return far;
  throw new UsageError(
    `Cannot ${what} for something near as '--far' is missing: give the level below ${near} at which it is gone`,
  );
}

async function leadThrough(
  source: LiveSource,
  values: WatchValues,
  signal: AbortSignal,
): Promise<number> {
  const distances = distancesOf(values.series!, what);
  const series = await recordSeries(source, {
    ...shared(values),
    signal,
    distances,
    folder: values.output ?? "readings",
    ...(values["take-duration"] === undefined
      ? {}
      : { captureDuration: values["take-duration"] }),
    ...(values["distance-uncertainty"] === undefined
      ? {}
      : { standardUncertainty: values["distance-uncertainty"] }),
  });
  console.log(printReport(series));
  return series.leftOut.length === 0 ? 0 : 1;
}

/** What both take: the diode and the end. */
function shared(
  values: WatchValues,
): Pick<WatchOptions, "diode" | "duration"> {
  const current = values["rated-current"];
  const power = values["rated-power"];
  if ((current === undefined) !== (power === undefined)) {
    throw new UsageError(
      `Cannot ${what} with half of the diode: '--rated-current' and '--rated-power' go together`,
    );
  }
  return {
    ...(values.duration === undefined ? {} : { duration: values.duration }),
    ...(current === undefined || power === undefined ? {} : {
      diode: {
        wavelength: needed(watchFlags, values, "wavelength", what),
        ratedCurrent: current,
        ratedPower: power,
        thresholdCurrent: values["threshold-current"] ?? 0,
        ...(values.current === undefined ? {} : { current: values.current }),
      },
    }),
  };
}

async function sourceOf(
  values: WatchValues,
  rest: readonly string[],
): Promise<LiveSource> {
  const { run, tcp, simulate } = values;
  const given = [rest[0], run, tcp, simulate].filter((one) =>
    one !== undefined
  );
  if (given.length !== 1 || rest.length > 1) {
    throw new UsageError(
      `Cannot ${what} as one source is needed, and ${
        given.length + Math.max(0, rest.length - 1)
      } are named: a pipe, --run, --tcp or --simulate`,
    );
  }
  if (simulate === true) {
    return createSimulatedBench(
      values.series === undefined && values.tuning === undefined
        ? { focus: 0.4e-3 }
        : { focus: 0.2e-3, motionAmplitude: 0, rampAmplitude: 3e-3 },
    );
  }
  if (tcp !== undefined) return await instrumentOf(tcp, values);
  const layout = layoutOf(values, what);
  if (run !== undefined) {
    return createRecorderSource(run.trim().split(/\s+/), layout);
  }
  return createPipeSource(rest[0]!, layout);
}

async function instrumentOf(
  place: string,
  { description }: WatchValues,
): Promise<LiveSource> {
  const [, host = "", port] = /^(.+?)(?::(\d+))?$/.exec(place) ?? [];
  const said = description === undefined
    ? genericScpi
    : parseInstrumentDescription(
      JSON.parse(await readTextUpTo(description, 1e6)),
    );
  return createInstrumentSource(host, {
    description: said,
    ...(port === undefined ? {} : { port: Number(port) }),
  });
}

if (import.meta.main) {
  await runTask(task);
  // A read of the standard input that waits would keep the program alive.
  Deno.exit();
}
