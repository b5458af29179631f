import { extname } from "@std/path";
import type { MimeBundle, Output } from "../protocol/interpreter.ts";
import { displaySymbol, valueForm } from "./value_form.ts";

/** Options of `Deno.jupyter.display`. */
interface DenoDisplayOptions {
  /** Whether the value is a MIME bundle already. */
  raw?: boolean;
  /** Whether it replaces the display of the same id. */
  update?: boolean;
  /** Id under which the display can be updated. */
  display_id?: string;
}

/** Where an output goes: the cell that calls. */
type Publish = (output: Output) => void;

/**
 * The runtime's documented interface for notebooks (docs.deno.com, "Jupyter
 * kernel"), so that notebooks and packages written for it run here:
 * `Deno.jupyter.display`, `html`, `md`, `svg`, `image`, `format`, `broadcast`
 * and `$display`.
 *
 * @param publish Publishes under the cell that calls.
 */
export function installDenoJupyter(publish: Publish): void {
  const shown = (bundle: MimeBundle) => ({ [displaySymbol]: () => bundle });
  const template =
    (mime: string) =>
    (strings: TemplateStringsArray, ...values: readonly unknown[]) =>
      shown({ [mime]: String.raw({ raw: strings }, ...values) });
  const format = async (value: unknown) => (await valueForm(value)).data;
  const api = {
    $display: displaySymbol,
    display: async (value: unknown, options: DenoDisplayOptions = {}) => {
      const { raw = false, update = false, display_id = null } = options;
      if (update && display_id === null) {
        throw new TypeError(
          "Cannot update a display without its id: give 'display_id'",
        );
      }
      const { data, metadata } = raw
        ? { data: { ...value as MimeBundle }, metadata: {} }
        : await valueForm(value);
      publish({
        type: update ? "update_display_data" : "display_data",
        data,
        metadata,
        displayId: display_id,
      });
    },
    format,
    html: template("text/html"),
    md: template("text/markdown"),
    svg: template("image/svg+xml"),
    image: (source: string | Uint8Array) => {
      const bytes = typeof source === "string"
        ? Deno.readFileSync(source)
        : source;
      return shown({ [pictureType(source, bytes)]: bytes });
    },
    broadcast: (
      type: string,
      content: Record<string, unknown>,
      { buffers = [], metadata = {} }: {
        buffers?: Uint8Array[];
        metadata?: Record<string, unknown>;
      } = {},
    ) => {
      publish(outputOf(type, content, metadata, buffers));
      return Promise.resolve();
    },
  };
  // A property that throws until it is set.
  (Deno as unknown as { jupyter: typeof api }).jupyter = Object.freeze(api);
}

function pictureType(source: string | Uint8Array, bytes: Uint8Array): string {
  if (bytes[0] === 0x89 && bytes[1] === 0x50) return "image/png";
  if (bytes[0] === 0xff && bytes[1] === 0xd8) return "image/jpeg";
  if (bytes[0] === 0x47 && bytes[1] === 0x49) return "image/gif";
  const name = typeof source === "string" ? ` '${source}'` : "";
  throw new TypeError(
    `Cannot show the picture${name} as it is neither PNG, JPEG nor GIF${
      typeof source === "string"
        ? ` (its name ends in '${extname(source)}')`
        : ""
    }`,
  );
}

/** A message of the protocol as an output of the cell. */
function outputOf(
  type: string,
  content: Record<string, unknown>,
  metadata: Record<string, unknown>,
  buffers: Uint8Array[],
): Output {
  const record = (value: unknown) => (value ?? {}) as Record<string, unknown>;
  switch (type) {
    case "display_data":
    case "update_display_data": {
      const { display_id = null } = record(content.transient);
      return {
        type,
        data: record(content.data),
        metadata: record(content.metadata),
        displayId: display_id as string | null,
      };
    }
    case "stream":
      return {
        type,
        name: content.name === "stderr" ? "stderr" : "stdout",
        text: String(content.text ?? ""),
      };
    case "clear_output":
      return { type, wait: content.wait === true };
    case "comm_open":
    case "comm_msg":
    case "comm_close":
      return {
        type,
        commId: String(content.comm_id ?? ""),
        targetName: typeof content.target_name === "string"
          ? content.target_name
          : null,
        data: record(content.data),
        metadata,
        buffers,
      };
    default:
      throw new TypeError(
        `Cannot broadcast '${type}': a cell may send display_data, update_display_data, stream, clear_output, comm_open, comm_msg, comm_close`,
      );
  }
}
