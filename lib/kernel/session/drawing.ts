import { join } from "@std/path";
import { confinedCommand } from "../confine/mod.ts";
import { sessionEnvironment } from "./command.ts";
import { dependencyCache } from "./dependency_cache.ts";
import { DrawingDesk } from "./drawing_desk.ts";
import { drawingLimits } from "./drawing_limits.ts";
import { projectFolder } from "./project_folder.ts";

/** Options of {@linkcode createDrawingDesk}. */
export interface DrawingDeskOptions {
  /**
   * Whether what draws is loaded when a cell names the library, before its first
   * figure.
   *
   * @default {false}
   */
  readonly eager?: boolean;
}

/**
 * Makes the desk at which sessions have their figures drawn; its process starts
 * when it is first needed. It may read the library and its packages and do
 * nothing else: no notebook's folder, no writing, no network, no programs.
 *
 * @param options Whether it is made ready early.
 * @returns The desk; close it when the run is over.
 */
export function createDrawingDesk(
  { eager = false }: DrawingDeskOptions = {},
): DrawingDesk {
  const read = [
    join(projectFolder, "lib"),
    join(projectFolder, "deno.json"),
    dependencyCache(),
  ];
  return new DrawingDesk(() =>
    confinedCommand(Deno.execPath(), {
      args: [
        "run",
        "--quiet",
        "--no-prompt",
        `--config=${join(projectFolder, "deno.json")}`,
        "--no-lock",
        "--cached-only",
        "--v8-flags=--max-old-space-size=1024",
        `--allow-read=${read.map((path) => path.replaceAll(",", ",,")).join()}`,
        "--ignore-env",
        join(projectFolder, "lib", "kernel", "session", "drawing_main.ts"),
      ],
      clearEnv: true,
      env: sessionEnvironment(),
      stdin: "piped",
      stdout: "piped",
      stderr: "piped",
    }, { read }), { eager });
}

/** The pictures of one session: few at a time, and none once too many failed. */
export class SessionPictures {
  readonly #desk: DrawingDesk | null;
  #failures = 0;
  #waiting = 0;

  constructor(desk: DrawingDesk | null) {
    this.#desk = desk;
  }

  /**
   * Has a figure drawn and gives the answer for the session.
   *
   * @param figure JSON text of `{ data, layout }` in UTF-8.
   * @param scale Picture pixels per CSS pixel.
   * @param tell Hands the answer over: the parts of the picture; none where the
   * session draws it itself.
   * @returns Settled when the session may ask for more; at once while few wait.
   */
  async order(
    figure: Uint8Array,
    scale: number,
    tell: (parts: Uint8Array[]) => Promise<void>,
  ): Promise<void> {
    this.#waiting++;
    const done = this.#draw(figure, scale).then(tell)
      .finally(() => this.#waiting--);
    if (this.#waiting >= drawingLimits.waiting) await done;
  }

  async #draw(figure: Uint8Array, scale: number): Promise<Uint8Array[]> {
    if (this.#desk === null || this.#failures >= drawingLimits.failures) {
      return [];
    }
    try {
      return [...await this.#desk.draw(figure, scale)];
    } catch {
      this.#failures++;
      return [];
    }
  }
}
