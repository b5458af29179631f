import { fromFileUrl } from "@std/path";
import config from "../../deno.json" with { type: "json" };

/** A tag of a doc comment. */
export interface Tag {
  readonly kind: string;
  readonly name?: string;
  readonly doc?: string;
}

/** A type as the documentation tool writes it. */
export interface DocType {
  readonly kind: string;
  readonly repr?: string;
  readonly value?: unknown;
}

/** A parameter as the documentation tool writes it. */
export interface DocParameter {
  readonly kind: string;
  readonly tsType?: DocType;
  readonly left?: DocParameter;
}

/** One declaration of an exported symbol. */
export interface Declaration {
  readonly kind: string;
  readonly jsDoc?: { readonly doc?: string; readonly tags?: readonly Tag[] };
  readonly def?: {
    readonly params?: readonly DocParameter[];
    readonly returnType?: DocType;
  };
}

/** A symbol behind a door. */
export interface Exported {
  readonly name: string;
  readonly declarations: readonly Declaration[];
}

const url = (path: string) => new URL(`../../${path}`, import.meta.url);

let asked: Promise<ReadonlyMap<string, Exported[]>> | null = null;

/**
 * Everything that the library exports, as the documentation tool sees it; asked
 * once for all that reads it.
 *
 * @returns By door, such as `"."` or `"./signal"`, what stands behind it.
 */
export function exported(): Promise<ReadonlyMap<string, Exported[]>> {
  return asked ??= askedNow();
}

async function askedNow(): Promise<ReadonlyMap<string, Exported[]>> {
  const doors = Object.entries(config.exports);
  const { stdout, success } = await new Deno.Command(Deno.execPath(), {
    args: ["doc", "--json", ...doors.map(([, path]) => fromFileUrl(url(path)))],
    env: { NO_COLOR: "1" },
    stderr: "null",
  }).output();
  if (!success) throw new Error("deno doc failed");
  const { nodes } = JSON.parse(new TextDecoder().decode(stdout)) as {
    nodes: Record<string, { symbols: Exported[] }>;
  };
  return new Map(
    doors.map(([door, path]) => [door, nodes[url(path).href]!.symbols]),
  );
}
