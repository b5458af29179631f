import {
  connectInstrument,
  genericScpi,
  type InstrumentCaptureOptions,
  type InstrumentConnection,
  readAcquisition,
} from "../capture/mod.ts";
import { requireFields, requireText } from "../options/mod.ts";
import type { LiveBlock, LiveSource } from "./live_source.ts";

/**
 * A live source that asks an instrument over TCP for one acquisition after the
 * other, over one connection. Between two of them samples are missing: each stands
 * by itself, and none is joined to the one before.
 *
 * A notebook needs a grant for the address, such as
 * `deno task kernel --user --allow-net=192.168.1.20:5025`.
 *
 * @param host Name or address of the instrument.
 * @param options Description, port, timeout in s, size limit.
 * @returns The source.
 *
 * @example
 * ```ts
 * import { createInstrumentSource } from "fringebook/live";
 * import { expect } from "vitest";
 *
 * const source = createInstrumentSource("bench.example", {
 *   ask: () => Promise.resolve(false),
 * });
 * await expect(source.open()).rejects.toThrow("not allowed");
 * ```
 */
export function createInstrumentSource(
  host: string,
  options: InstrumentCaptureOptions = {},
): LiveSource {
  const task = "watch an instrument";
  requireText(host, "host", task);
  requireFields(options, "options", [], task);
  const { description = genericScpi, ...connect } = options;
  requireFields(description, "description", ["setup", "channels"], task);
  const name = `instrument ${host}:${connect.port ?? description.port}`;
  return {
    name,
    async open() {
      let instrument: InstrumentConnection | null = await connectInstrument(
        host,
        { port: description.port, ...connect },
      );
      const close = () => {
        instrument?.close();
        instrument = null;
      };
      const take = async () => await readAcquisition(instrument!, description);
      const head = await take().catch((error) => {
        close();
        throw error;
      });
      async function* blocks(): AsyncGenerator<LiveBlock> {
        let capture = head;
        for (;;) {
          yield {
            samples: capture.channels.map(({ samples }) =>
              Float64Array.from(samples)
            ),
            joined: false,
            lost: 0,
            garbage: 0,
          };
          if (instrument === null) return;
          try {
            capture = await take();
          } catch (error) {
            // Closed by the person who watches
            if (instrument === null) return;
            throw error;
          }
        }
      }
      return {
        samplingRate: head.samplingRate,
        paced: false,
        channels: head.channels.map(({ name, role, unit, fullScale }) => ({
          name,
          role,
          unit,
          fullScale,
        })),
        settings: { "live source": name, ...head.metadata },
        blocks,
        close,
      };
    },
  };
}
